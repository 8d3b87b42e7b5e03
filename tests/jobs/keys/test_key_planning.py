"""Many candidates are planned by the worker: once, with progress, and the newest turn wins."""

from collections.abc import Callable

import pytest

from jobs import actions as jobs
from jobs.demo_keys import add_demo_key_work
from jobs.errors import WrongState
from jobs.models import KeyPlan, KeyStage, KeyWay
from jobs.tasks import carry_on_key_plans, plan_key_trials
from tests.cast import signed_in
from tests.jobs.keys.rows import Bench, bench, shown, system
from vehicles.actions import add_key_system
from vehicles.demo_data import add_demo_key_systems
from vehicles.keys import Bitting, even_depths

pytestmark = pytest.mark.django_db(transaction=True)
KNOWN: list[str | None] = [None, None, None, None, "5", "5"]


@pytest.fixture
def made() -> Bench:
    """Four of six cuts missing, five depths, no MACS: 625 keys."""
    made = bench()
    wide = system("Wide W6", root_depths_mm=even_depths("12345", "7.00", "0.40"), macs=None)
    sheet = add_key_system(actor=made.boss, system=wide)
    jobs.choose_system(made.job, actor=made.me, key_system=sheet)
    jobs.record_known_cuts(made.job, actor=made.me, known=KNOWN)
    return made


def test_the_worker_plans_once_and_the_page_shows_how_far_it_is(made: Bench) -> None:
    plan = KeyPlan.objects.get()
    assert (made.work.left, made.work.trials, plan.state) == (625, None, KeyPlan.State.WAITING)
    client, url = signed_in(made.me), f"/round/{made.visit.pk}/key"
    assert "Working out the fewest blanks" in client.get(url).content.decode()
    part = client.get(url, headers={"HX-Request": "true"}).content.decode()
    assert 'hx-trigger="every 2s"' in part and "<html" not in part
    with pytest.raises(WrongState):
        jobs.choose_trial_blank(made.job, actor=made.me, item=made.trial, place=made.van)
    plan_key_trials(plan.pk)
    plan.refresh_from_db()
    assert (plan.state, plan.percent, plan.asked) == (KeyPlan.State.DONE, 100, None)
    # The middle layer of the 5 x 5 x 5 x 5 grid: 85 (de Bruijn, Tengbergen and Kruyswijk, Nieuw Archief 23, 1951).
    assert shown(made).plan.blanks == 85
    written = made.work.trials
    plan_key_trials(plan.pk)
    assert made.work.trials == written
    gone = client.get(url, headers={"HX-Request": "true"})
    assert gone["HX-Redirect"] == url


def test_an_answer_among_many_is_taken_by_the_worker(made: Bench) -> None:
    plan_key_trials(KeyPlan.objects.get().pk)
    jobs.choose_trial_blank(made.job, actor=made.me, item=made.trial, place=made.van)
    made.answer("does not turn")
    assert made.held(made.trial) == 19
    with pytest.raises(WrongState):
        made.answer("does not turn")
    plan_key_trials(KeyPlan.objects.get().pk)
    assert (made.work.left, made.work.tries) == (624, 1)


def test_what_is_entered_anew_replaces_the_plan_under_way(made: Bench) -> None:
    jobs.record_known_cuts(made.job, actor=made.me, known=[None, *KNOWN[1:4], "1", "5"])
    assert KeyPlan.objects.get().turn == 2
    jobs.record_known_cuts(made.job, actor=made.me, known=["1", "2", "3", None, "1", "5"])
    assert not KeyPlan.objects.exists() and made.work.left == 5
    assert shown(made).plan.blanks == 1


def test_turns_lost_with_a_worker_are_sent_again(
    made: Bench, worker: object, eventually: Callable[..., object]
) -> None:
    KeyPlan.objects.update(heard_at="2020-01-01T00:00:00Z", state=KeyPlan.State.RUNNING)
    carry_on_key_plans()
    eventually(lambda: KeyPlan.objects.filter(state=KeyPlan.State.DONE).exists(), within=30)
    assert made.work.stage == KeyStage.TRYING and shown(made).plan.blanks == 85


@pytest.mark.parametrize("make", ["Aldren", "Brixo", "Corvane", "Dunmark", "Elvara"])
def test_the_demo_key_is_two_cuts_short(make: str) -> None:
    made = bench()
    add_demo_key_systems(made.boss)
    work = add_demo_key_work(made.visit, make=make, blank=made.trial, place=made.van)
    assert (work.stage, work.way, work.trial_item) == (KeyStage.TRYING, KeyWay.LOCK, made.trial)
    assert work.left and 2 <= work.left <= 36 and work.where_found
    plan = shown(made).plan
    assert plan.is_minimum and 1 <= plan.blanks <= plan.count


def test_keys_of_a_system_that_cannot_be_recut_take_a_blank_each() -> None:
    made = bench()
    fixed = add_key_system(actor=made.boss, system=system("Fixed F6", can_recut=False))
    jobs.choose_system(made.job, actor=made.me, key_system=fixed)
    jobs.record_known_cuts(made.job, actor=made.me, known=["1", "2", "1", "3", "2", None], lock="door")
    plan = shown(made).plan
    assert (plan.count, plan.blanks) == (3, 3)
    first: Bitting = plan.steps[0].bitting
    assert first[:5] == ("1", "2", "1", "3", "2")
