"""From what is known to the candidates: only after the check, only on site, nothing told in clear."""

from decimal import Decimal

import pytest

from jobs import actions as jobs
from jobs.errors import WrongState
from jobs.models import EventKind, KeyStage, KeyWay, KeyWork, Opening
from jobs.states import KindOfWork
from shop.errors import Refused
from shop.guarded import NotPermitted, Sealed
from tests.cast import technician
from tests.jobs.keys.rows import CODE, CUTS, FROM_DOOR, OTHER_CODE, bench, code_book, find, openings, system
from vehicles.actions import add_key_system
from vehicles.keys import UnitsDoubt, inch
from vehicles.models import CodeBookLook

pytestmark = pytest.mark.django_db


def test_nothing_is_looked_up_or_worked_out_before_the_check() -> None:
    made = bench(is_checked=False)
    code_book(made, {CODE: CUTS})
    for act in (
        lambda: jobs.choose_system(made.job, actor=made.me, key_system=made.sheet),
        lambda: jobs.record_code(made.job, actor=made.me, code=CODE, where_found="Glovebox"),
        lambda: jobs.record_known_cuts(made.job, actor=made.me, known=FROM_DOOR),
        lambda: jobs.record_readings(made.job, actor=made.me, readings_mm=[Decimal(7)] * 6),
        lambda: jobs.answer_trial(made.job, actor=made.me, answer="turns"),
        lambda: made.final_keys(),
    ):
        with pytest.raises(NotPermitted):
            act()
    assert not KeyWork.objects.exists() and not CodeBookLook.objects.exists() and not Opening.objects.exists()


def test_another_technician_and_a_job_not_on_site_are_refused() -> None:
    made = bench()
    with pytest.raises(NotPermitted):
        jobs.choose_system(made.job, actor=technician(), key_system=made.sheet)
    jobs.finish_visit(made.visit, actor=made.me, needs_another_visit=True)
    with pytest.raises(WrongState):
        made.begin()


def test_a_code_in_a_book_gives_its_cuts_and_is_sealed() -> None:
    made = bench()
    code_book(made, {CODE: CUTS, "AX418": "111222"})
    jobs.record_code(made.job, actor=made.me, code=" ax-417 ", where_found="Tag in the glovebox")
    work = made.work
    assert (work.stage, work.way, work.left, work.key_system) == (KeyStage.TRYING, KeyWay.CODE, 1, made.sheet)
    assert isinstance(work.code, Sealed) and work.code_fingerprint
    look = CodeBookLook.objects.get()
    assert (look.person, look.job_number) == (made.me, str(made.job.number))
    assert openings(made.job)
    again = bench(like=made)
    jobs.record_code(again.job, actor=again.me, code=CODE, where_found="Lock")
    assert again.work.code_fingerprint == work.code_fingerprint


def test_a_code_in_no_book_leaves_the_other_ways_open() -> None:
    made = bench()
    code_book(made, {CODE: CUTS})
    made.begin()
    work = jobs.record_code(made.job, actor=made.me, code=OTHER_CODE, where_found="Door lock")
    assert (work.stage, work.left, work.where_found) == (KeyStage.BEGUN, None, "Door lock")
    assert made.read_door().left == 9


@pytest.mark.parametrize(("code", "where"), [("", "Lock"), ("  -- ", "Lock"), (CODE, " ")])
def test_a_code_needs_itself_and_its_place(code: str, where: str) -> None:
    made = bench()
    with pytest.raises(Refused):
        jobs.record_code(made.job, actor=made.me, code=code, where_found=where)


def test_a_code_in_books_of_two_systems_asks_for_the_system() -> None:
    made = bench()
    code_book(made, {CODE: CUTS})
    other = add_key_system(actor=made.boss, system=system("Beech B6"))
    code_book(made, {CODE: "123123"}, sheet=other, name="Beech AX")
    with pytest.raises(Refused, match="Alder A6, Beech B6"):
        jobs.record_code(made.job, actor=made.me, code=CODE, where_found="Lock")
    jobs.choose_system(made.job, actor=made.me, key_system=other)
    assert jobs.record_code(made.job, actor=made.me, code=CODE, where_found="Lock").key_system == other


def test_the_door_leaves_every_completion_of_two_cuts() -> None:
    """3 x 3 fillings of cuts 1 and 2; none breaks MACS 2 with three depths (counted by hand)."""
    made = bench()
    work = made.read_door()
    assert (work.left, work.stage, work.way) == (9, KeyStage.TRYING, KeyWay.LOCK)
    told = list(made.job.events.filter(kind=EventKind.KEY).values_list("words", flat=True))
    assert told == ["Key system Alder A6 chosen.", "The door lock was read: 4 of 6 cuts known, 9 keys left."]


def test_cuts_that_no_key_has_are_refused_and_nothing_is_kept() -> None:
    made = bench()
    steep = add_key_system(actor=made.boss, system=system("Steep S6", macs=1))
    jobs.choose_system(made.job, actor=made.me, key_system=steep)
    with pytest.raises(Refused, match="No key has these cuts"):
        jobs.record_known_cuts(made.job, actor=made.me, known=["1", "3", None, None, None, None])
    assert made.work.trials is None and made.work.known is None


def test_readings_in_inches_are_asked_about_and_then_decoded() -> None:
    made = bench()
    made.begin()
    roots = [made.sheet.system.by_label[label].root_mm for label in CUTS]
    in_inches = [round(root / inch(1), 4) for root in roots]
    with pytest.raises(UnitsDoubt) as doubt:
        jobs.record_readings(made.job, actor=made.me, readings_mm=in_inches, from_lock=True)
    work = jobs.record_readings(made.job, actor=made.me, readings_mm=doubt.value.readings_mm, from_lock=True)
    assert work.stage == KeyStage.TRYING and work.left and work.left >= 1


def test_a_reading_that_fits_no_depth_is_named() -> None:
    made = bench()
    made.begin()
    with pytest.raises(ValueError, match="cut 2"):
        jobs.record_readings(made.job, actor=made.me, readings_mm=[Decimal(7), Decimal(2), None, None, None, None])


def test_a_key_kept_from_an_earlier_job_of_the_car_gives_the_duplicate() -> None:
    made = bench()
    made.read_door()
    find(made)
    made.final_keys()
    later = bench(like=made, is_same_car=True, kind_of_work=KindOfWork.DUPLICATE_KEY)
    work = jobs.use_earlier_key(later.job, actor=later.me, earlier=made.work)
    assert (work.left, work.way, work.key_system) == (1, KeyWay.EARLIER, made.sheet)
    assert f"For job {later.job.number}: A key from the cuts kept" in openings(made.job)
    stranger = bench(like=made)
    with pytest.raises(Refused):
        jobs.use_earlier_key(stranger.job, actor=stranger.me, earlier=made.work)
