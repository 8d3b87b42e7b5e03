"""A car on site whose family has two variants and a procedure with every kind of step. All of it is invented."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any
from uuid import uuid4

from jobs.actions.running import begin_run, mark_step
from jobs.models import Job, ProcedureRun, StepDone, Visit
from jobs.states import KindOfWork
from shop.staff.models import Person
from tests.cast import owner, technician
from tests.jobs.authority.rows import on_site, passed
from vehicles.actions import set_family
from vehicles.actions.families import add_family, add_variant
from vehicles.actions.procedures import accept_version, add_procedure
from vehicles.models import Procedure, ProcedureStep, ProcedureVersion, Variant, VehicleFamily
from vehicles.procedure_content import Content, StepContent

# Positions of the steps below.
SUPPLY, DROP, DOORS, WAIT, LEARN, LIGHT = range(1, 7)
STEPS = (
    StepContent(kind="measure", words="Measure the battery at its posts", unit="V", low=Decimal("12.4")),
    StepContent(kind="measure", words="Measure the drop to ground", unit="V", high=Decimal("0.2")),
    StepContent(kind="do", words="Shut every door", caution="Keep one window down"),
    StepContent(kind="wait", words="Ignition on, wait", seconds=600),
    StepContent(kind="do", words="Begin to learn the keys", is_uninterruptible=True),
    StepContent(kind="check", words="Look at the dash", asks_immobilizer_light=True),
)


@dataclass(frozen=True)
class Car:
    boss: Person
    me: Person
    visit: Visit
    family: VehicleFamily
    early: Variant
    late: Variant
    procedure: Procedure

    @property
    def job(self) -> Job:
        return self.visit.job

    @property
    def version(self) -> ProcedureVersion:
        found: ProcedureVersion = self.procedure.versions.accepted().get()
        return found

    def step(self, position: int) -> ProcedureStep:
        found: ProcedureStep = self.version.steps.get(position=position)
        return found

    def begin(self, **facts: Any) -> ProcedureRun:
        return begin_run(self.visit, actor=self.me, version=self.version, **facts)

    def mark(self, run: ProcedureRun, position: int, **facts: Any) -> StepDone:
        told: dict[str, Any] = {"client_id": uuid4(), **facts}
        if isinstance(told.get("measured"), str):
            told["measured"] = Decimal(told["measured"])
        step: ProcedureStep = run.version.steps.get(position=position)
        return mark_step(run, actor=self.me, step=step, **told)


def content(steps: tuple[StepContent, ...] = STEPS, **facts: Any) -> Content:
    told: dict[str, Any] = {
        "source": "Worked out on two cars of the shop",
        "equipment": ("Tester", "Battery charger"),
        "low_volts": Decimal("12.0"),
        "high_volts": Decimal("14.8"),
    }
    return Content(steps=steps, **{**told, **facts})


def family_of_two(boss: Person) -> tuple[VehicleFamily, Variant, Variant]:
    family = add_family(
        actor=boss, name="Tern II", make="Merrow", model_names=["Tern"], year_from=2014, year_until=2018
    )
    early = add_variant(family, actor=boss, name="Early box", sign="The box under the wheel has a white plug")
    late = add_variant(family, actor=boss, name="Late box", sign="The box under the wheel has a green plug")
    return family, early, late


def car(*, steps: tuple[StepContent, ...] = STEPS, is_checked: bool = True, **facts: Any) -> Car:
    """The car on site with its family known and its variant not; who may have the key is checked."""
    boss, me = owner(), technician()
    family, early, late = family_of_two(boss)
    procedure = add_procedure(
        family, actor=boss, kind_of_work=KindOfWork.ALL_KEYS_LOST, content=content(steps, **facts)
    )
    accept_version(procedure.versions.get(), actor=boss)
    visit = on_site(me)
    if is_checked:
        passed(visit)
    assert visit.job.vehicle
    set_family(visit.job.vehicle, actor=boss, family=family)
    visit = Visit.objects.with_job().get(pk=visit.pk)
    return Car(boss, me, visit, family, early, late, procedure)
