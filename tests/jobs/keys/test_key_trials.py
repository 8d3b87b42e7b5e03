"""Trying on trial keys: every blank counted once, contradictions told, stale and double answers harmless."""

from decimal import Decimal

import pytest

from jobs import actions as jobs
from jobs.errors import MovedMeanwhile, WrongState
from jobs.models import KeyStage, PartUse
from shop.errors import Refused
from shop.stock.models import SpoiledReason
from tests.jobs.keys.rows import CUTS, Bench, bench, find, shown

pytestmark = pytest.mark.django_db


def spoiled(made: Bench, reason: str) -> int:
    parts = PartUse.objects.standing().filter(job=made.job, movement__reason=reason)
    return sum(part.quantity for part in parts)


@pytest.fixture
def made() -> Bench:
    """The door lock read, two cuts missing: nine keys, three of them mutually incomparable (3 x 3 grid, by hand)."""
    made = bench()
    made.read_door()
    return made


def test_the_plan_names_the_fewest_blanks_with_the_proof(made: Bench) -> None:
    """The longest antichain of the 3 x 3 grid has 3 members (R. P. Dilworth, Annals of Mathematics 51, 1950)."""
    plan = shown(made).plan
    assert (plan.count, plan.blanks, len(plan.proof), plan.is_minimum) == (9, 3, 3, True)


def test_the_key_is_found_and_each_blank_counted_once(made: Bench) -> None:
    work = find(made)
    blanks = {attempt.blank for attempt in shown(made).tries}
    assert work.stage == KeyStage.FOUND and work.left == 1
    assert spoiled(made, SpoiledReason.TRIAL) == len(blanks) == len(work.blank_parts)
    assert made.held(made.trial) == 20 - len(blanks)
    parts = PartUse.objects.standing().with_cost().filter(job=made.job)
    assert sum(part.cost for part in parts) == Decimal("1.50") * len(blanks)
    assert not any(part.is_charged for part in parts)


def test_the_final_keys_are_used_counted_and_the_cuts_sealed(made: Bench) -> None:
    find(made)
    work = made.final_keys(2)
    assert (work.stage, work.keys_cut, work.turned_in) == (KeyStage.MADE, 2, ["ignition", "door"])
    used = PartUse.objects.get(job=made.job, item=made.final)
    assert (used.quantity, used.is_charged, used.movement.reason) == (2, True, "")
    permit = jobs.open_guarded(made.job, actor=made.boss, kinds=["jobs.keywork.bitting"], reason="Owner asks")
    assert made.work.bitting.open(permit) == list(CUTS)
    assert made.final_keys(1).keys_cut == 3
    with pytest.raises(WrongState):
        made.answer("turns")


@pytest.mark.parametrize("facts", [{"count": 0}, {"count": 21}, {"turned_in": []}])
def test_final_keys_that_cannot_be_are_refused(made: Bench, facts: dict[str, object]) -> None:
    find(made)
    with pytest.raises(Refused):
        made.final_keys(**facts)  # type: ignore[arg-type]
    assert made.held(made.final) == 20


def test_the_transponder_blank_waits_until_one_candidate_is_left_or_the_owner_says_so(made: Bench) -> None:
    with pytest.raises(Refused, match="9 candidates are left"):
        made.final_keys()
    with pytest.raises(Refused, match="Only the owner"):
        jobs.give_leave(made.job, actor=made.me, reason="In a hurry")
    jobs.give_leave(made.job, actor=made.boss, reason="The customer pays for a second blank")
    assert shown(made).may_cut_final
    jobs.spoil_final_key(made.job, actor=made.me, item=made.final, place=made.van, turned=False)
    assert made.work.left == 8 and spoiled(made, SpoiledReason.TRIAL) == 1
    assert made.held(made.trial) == 20 and made.held(made.final) == 19


def test_a_miscut_final_blank_rules_nothing_out(made: Bench) -> None:
    find(made)
    jobs.spoil_final_key(made.job, actor=made.me, item=made.final, place=made.van)
    assert spoiled(made, SpoiledReason.MISCUT) == 1 and made.work.stage == KeyStage.FOUND


def test_an_answer_that_contradicts_is_told_and_can_be_taken_back(made: Bench) -> None:
    while shown(made).plan.count > 1:
        made.answer("does not turn")
    tries = made.work.tries
    made.answer("does not turn")
    page = shown(made)
    assert page.doubt and page.doubted and made.work.tries == tries
    assert made.job.events.filter(words__contains="contradicts").count() == 1
    held, step = made.held(made.trial), page.step
    assert step and not step.is_new_blank and step.changed == ()
    made.answer("does not turn")
    assert made.held(made.trial) == held, "a blank cut for a doubtful answer is not taken twice"
    jobs.undo_answer(made.job, actor=made.me, number=page.doubted[0].number)
    page = shown(made)
    assert not page.doubt and page.step and page.step.bitting == page.tries[0].bitting


def test_undo_keeps_the_cut_blank_unless_it_was_never_cut(made: Bench) -> None:
    made.answer("does not turn")
    jobs.undo_answer(made.job, actor=made.me)
    page = shown(made)
    assert made.held(made.trial) == 19 and page.plan.count == 9 and page.plan.blanks == 2
    again = bench(like=made)
    again.read_door()
    again.answer("does not turn")
    jobs.undo_answer(again.job, actor=again.me, was_cut=False)
    assert again.held(again.trial) == 20 and shown(again).plan.blanks == 3
    with pytest.raises(Refused):
        jobs.undo_answer(again.job, actor=again.me)


def test_a_broken_blank_is_planned_around_and_counted_once(made: Bench) -> None:
    first = shown(made).step
    assert first
    jobs.discard_trial_blank(made.job, actor=made.me, number=first.blank)
    assert spoiled(made, SpoiledReason.MISCUT) == 1 and shown(made).plan.blanks == 3
    made.answer("does not turn")
    step = shown(made).step
    assert step
    jobs.discard_trial_blank(made.job, actor=made.me, number=1)
    assert (spoiled(made, SpoiledReason.MISCUT), spoiled(made, SpoiledReason.TRIAL)) == (1, 1)
    with pytest.raises(Refused):
        jobs.discard_trial_blank(made.job, actor=made.me, number=9)


def test_a_page_left_behind_changes_nothing(made: Bench) -> None:
    made.answer("does not turn", seen=0)
    with pytest.raises(MovedMeanwhile):
        made.answer("turns", seen=0)
    assert made.work.tries == 1 and made.work.stage == KeyStage.TRYING


def test_answers_nobody_gives_and_trials_without_a_blank_are_refused(made: Bench) -> None:
    with pytest.raises(Refused):
        made.answer("perhaps")
    with pytest.raises(Refused):
        made.answer("only", lock="sunroof")
    other = bench(like=made)
    other.begin()
    with pytest.raises(WrongState):
        other.answer("turns")
    jobs.record_known_cuts(other.job, actor=other.me, known=[*CUTS[:4], None, None])
    with pytest.raises(Refused, match="trial blank"):
        other.answer("turns")
    with pytest.raises(Refused, match="plain blanks"):
        jobs.choose_trial_blank(other.job, actor=other.me, item=other.final, place=other.van)


def test_known_cuts_entered_anew_keep_the_blanks_in_hand(made: Bench) -> None:
    made.answer("does not turn")
    jobs.record_known_cuts(made.job, actor=made.me, known=[None, None, *CUTS[2:5], None], lock="door")
    page = shown(made)
    assert page.plan.count == 27 and page.tries == () and made.held(made.trial) == 19
    assert page.plan.blanks == 6, "seven mutually incomparable keys of the 3 x 3 x 3 grid, one blank in hand"


def test_a_final_page_left_behind_cuts_no_other_key(made: Bench) -> None:
    jobs.give_leave(made.job, actor=made.boss, reason="Paid for")
    made.answer("does not turn")
    with pytest.raises(MovedMeanwhile):
        made.final_keys(seen=0)
    assert made.held(made.final) == 20 and made.final_keys(1, seen=1).stage == KeyStage.MADE
