"""Invented families and procedures, made through the actions."""

from decimal import Decimal
from typing import Any

from shop.staff.models import Person
from vehicles.actions import accept_version, add_family, add_procedure
from vehicles.models import Procedure, VehicleFamily
from vehicles.procedure_content import Content, StepContent

STEPS = (
    StepContent("do", "Cut a trial key and try it."),
    StepContent("measure", "Supply at the posts", unit="V", low=Decimal("12.4"), high=Decimal("14.8")),
    StepContent("wait", "Leave the ignition on", "Never let the supply drop.", seconds=720, is_uninterruptible=True),
    StepContent("check", "Start with every key", asks_immobilizer_light=True),
)
CONTENT = Content(STEPS, "Worked out here", "Jonas", ("Support unit",), Decimal("12.40"), Decimal("14.80"))


def brisk(actor: Person | None = None, **facts: Any) -> VehicleFamily:
    """The Halden Brisk of 2012 to 2018, unless told otherwise."""
    usual = {"make": "Halden", "name": "Brisk", "model_names": ["Brisk"], "year_from": 2012, "year_until": 2018}
    return add_family(actor=actor, **{**usual, **facts})


def in_force(family: VehicleFamily, boss: Person, **facts: Any) -> Procedure:
    """A procedure for all keys lost, accepted."""
    procedure = add_procedure(family, actor=boss, **{"kind_of_work": "all_keys_lost", "content": CONTENT, **facts})
    accept_version(procedure.versions.get(), actor=boss)
    return procedure
