"""A job on site whose key is lost, an invented key system whose door reads less than the ignition, blanks on a van."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from jobs import actions as jobs
from jobs.actions.key_base import KINDS, REASON, open_kept
from jobs.key_run.page import TrialsPage, load_trials
from jobs.models import Job, KeyStage, KeyWork, Opening, Visit
from jobs.states import KindOfWork
from shop.staff.models import Person
from shop.stock import actions as stock
from shop.stock.models import Item, ItemKind, Place, PlaceKind
from tests.cast import owner, technician
from tests.jobs.authority.rows import on_site, passed
from vehicles.actions import add_key_system
from vehicles.actions.code_books import begin_code_book, check_code_book, store_code_book, take_in_code_book
from vehicles.keys import Bitting, KeySystem, even_depths, even_positions
from vehicles.models import KeySystemSheet

# The key of the car, and a code that stands for it.
CUTS: Bitting = ("3", "2", "1", "3", "2", "1")
CODE, OTHER_CODE = "AX417", "AX999"
# What the door gave: cuts 3 to 6. Cuts 1 and 2 are missing.
FROM_DOOR: list[str | None] = [None, None, *CUTS[2:]]


@dataclass(frozen=True)
class Bench:
    """`trial` are plain blanks (1.50 each), `final` transponder blanks (18.00 each), on the technician's van."""

    boss: Person
    me: Person
    visit: Visit
    sheet: KeySystemSheet
    trial: Item
    final: Item
    van: Place

    @property
    def job(self) -> Job:
        return self.visit.job

    @property
    def work(self) -> KeyWork:
        work: KeyWork = KeyWork.objects.get(job=self.job)
        return work

    def held(self, item: Item) -> int:
        return int(Item.objects.with_quantity_at(self.van.pk).get(pk=item.pk).here)

    def begin(self) -> None:
        jobs.choose_system(self.job, actor=self.me, key_system=self.sheet, visit=self.visit)

    def read_door(self, known: Sequence[str | None] = FROM_DOOR) -> KeyWork:
        self.begin()
        jobs.record_known_cuts(self.job, actor=self.me, known=known, lock="door", visit=self.visit)
        return jobs.choose_trial_blank(self.job, actor=self.me, item=self.trial, place=self.van)

    def answer(self, answer: str, **facts: Any) -> KeyWork:
        return jobs.answer_trial(self.job, actor=self.me, answer=answer, visit=self.visit, **facts)

    def final_keys(self, count: int = 2, **facts: Any) -> KeyWork:
        told = {"item": self.final, "place": self.van, "turned_in": ["ignition", "door"], **facts}
        return jobs.record_final_key(self.job, actor=self.me, count=count, visit=self.visit, **told)


def system(name: str = "Alder A6", **facts: Any) -> KeySystem:
    """Six cuts, three depths, MACS 2: two missing cuts leave nine keys, of which three are mutually incomparable."""
    told: dict[str, Any] = {
        "positions_mm": even_positions("3.00", "2.50", 6),
        "root_depths_mm": even_depths("123", "7.00", "0.60"),
        "macs": 2,
        "locks": {"ignition": range(1, 7), "door": range(3, 7)},
        "blade_height_mm": "7.50",
        "blade_length_mm": "18.50",
    }
    return KeySystem(name=name, **{**told, **facts})


def bench(*, is_checked: bool = True, like: Bench | None = None, is_same_car: bool = False, **facts: Any) -> Bench:
    """On site, the check passed. `like` shares owner, key system and items; only then can it be the same car."""
    boss, me = like.boss if like else owner(), technician()
    visit = on_site(me, **{"kind_of_work": KindOfWork.ALL_KEYS_LOST, **facts})
    if like and is_same_car:
        visit.job.vehicle = like.job.vehicle
        visit.job.save(update_fields=["vehicle"])
    if is_checked:
        passed(visit)
    sheet = like.sheet if like else add_key_system(actor=boss, system=system())
    van = stock.add_place(actor=boss, name=f"Van {me.pk}", kind=PlaceKind.VAN, driver=me)
    trial = like.trial if like else _item(boss, "P-1", "Plain blank", ItemKind.BLANK)
    final = like.final if like else _item(boss, "T-1", "Transponder blank", ItemKind.TRANSPONDER_BLANK)
    for item, cost in ((trial, "1.50"), (final, "18.00")):
        stock.receive(item, actor=boss, place=van, quantity=20, unit_cost=Decimal(cost))
    return Bench(boss, me, visit, sheet, trial, final, van)


def _item(boss: Person, number: str, name: str, kind: ItemKind) -> Item:
    return stock.add_item(actor=boss, number=number, name=name, kind=kind, price=Decimal(9))


def true_answer(bench: Bench, key: Bitting = CUTS) -> dict[str, str]:
    """What the car says to the key that the plan tries next, when `key` is the car's."""
    step = shown(bench).step
    assert step is not None
    if step.bitting == key:
        return {"answer": "turns"}
    if step.bitting[2:] == key[2:]:
        return {"answer": "only", "lock": "door"}
    return {"answer": "does not turn"}


def shown(bench: Bench) -> TrialsPage:
    """The trials as the phone shows them."""
    work = KeyWork.objects.of(bench.job)
    assert work is not None
    kept = open_kept(work, jobs.open_guarded(bench.job, actor=bench.me, kinds=KINDS, reason=REASON))
    assert kept is not None
    return load_trials(work, kept)


def find(bench: Bench, key: Bitting = CUTS, most: int = 40) -> KeyWork:
    """Tries as planned until the key turns."""
    for _ in range(most):
        work = bench.answer(**true_answer(bench, key))
        if work.stage == KeyStage.FOUND:
            return work
    raise AssertionError("The key was not found.")


def code_book(
    bench: Bench, rows: dict[str, Sequence[str]], *, sheet: KeySystemSheet | None = None, name: str = "Alder AX"
) -> None:
    """A code book of the bench's key system, or of another."""
    content = "code,bitting\n" + "".join(f"{code},{''.join(cuts)}\n" for code, cuts in rows.items())
    facts = {"name": name, "code_format": "AX###", "first_code": "AX001", "last_code": "AX999"}
    made = begin_code_book(
        actor=bench.boss,
        key_system=sheet or bench.sheet,
        content=content.encode(),
        file_name="a.csv",
        facts={**facts, "source": "Invented", "licence_note": "Ours"},
    )
    check_code_book(made)
    store_code_book(take_in_code_book(made, actor=bench.boss))


def openings(job: Job) -> list[str]:
    return list(Opening.objects.filter(job=job).order_by("number").values_list("reason", flat=True))
