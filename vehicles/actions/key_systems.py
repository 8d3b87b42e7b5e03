"""Writes on key systems."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from shop.errors import Refused
from shop.staff.models import Person
from vehicles.code_tokens import MOST_CUTS, MOST_DEPTHS
from vehicles.keys import KeySystem
from vehicles.models import KeySystemSheet


@transaction.atomic
def add_key_system(
    *, actor: Person, system: KeySystem, source: str = "", notes: str = "", at: datetime | None = None
) -> KeySystemSheet:
    """A new key system. Raises Refused when the name is taken."""
    sheet = KeySystemSheet(changed_by=actor, changed_at=at or timezone.now())
    _write(sheet, system, source, notes)
    return sheet


@transaction.atomic
def change_key_system(
    sheet: KeySystemSheet, *, actor: Person, system: KeySystem, source: str = "", notes: str = ""
) -> KeySystemSheet:
    """Other figures for a key system. Raises Refused when the name is taken, or when code books rest on the number of
    cuts or the labels that would change: copy the system then."""
    sheet = KeySystemSheet.objects.select_for_update().get(pk=sheet.pk)
    rests = sheet.code_books.filter(row_count__gt=0).first()
    if rests and (system.labels != sheet.system.labels or system.cuts != sheet.system.cuts):
        field = "depths" if system.labels != sheet.system.labels else "positions"
        raise Refused(
            f"Code book {rests.name} is written in these cuts and depths. Copy the key system and change the copy.",
            field=field,
        )
    sheet.changed_by, sheet.changed_at = actor, timezone.now()
    _write(sheet, system, source, notes)
    return KeySystemSheet.objects.get(pk=sheet.pk)


def _write(sheet: KeySystemSheet, system: KeySystem, source: str, notes: str) -> None:
    if len(system.depths) > MOST_DEPTHS or system.cuts > MOST_CUTS:
        raise Refused(f"A key system has at most {MOST_CUTS} cuts and {MOST_DEPTHS} depths.", field="depths")
    if len(system.name) > 80:
        raise Refused("The name is longer than 80 letters.", field="name")
    sheet.name, sheet.data, sheet.source, sheet.notes = system.name, system.to_json(), source, notes
    try:
        with transaction.atomic():
            if sheet.pk is None:
                sheet.save()
            else:
                sheet.save(update_fields=["name", "data", "source", "notes", "changed_by", "changed_at"])
    except IntegrityError:
        raise Refused(f"There is already a key system called {system.name}.", field="name") from None


@transaction.atomic
def copy_key_system(sheet: KeySystemSheet, *, actor: Person) -> KeySystemSheet:
    """A copy under a name of its own."""
    taken = {name.casefold() for name in KeySystemSheet.objects.values_list("name", flat=True)}
    names = (f"{sheet.name[:66]}, copy{'' if number == 1 else f' {number}'}" for number in range(1, len(taken) + 2))
    name = next(name for name in names if name.casefold() not in taken)
    system = KeySystem.from_json({**sheet.data, "name": name})
    return add_key_system(actor=actor, system=system, source=sheet.source, notes=sheet.notes)


@transaction.atomic
def switch_key_system(sheet: KeySystemSheet, *, actor: Person, on: bool) -> KeySystemSheet:
    """Takes a key system into use, or out of use: it stays readable where it was used."""
    sheet.is_active, sheet.changed_by, sheet.changed_at = on, actor, timezone.now()
    sheet.save(update_fields=["is_active", "changed_by", "changed_at"])
    return sheet


@transaction.atomic
def import_key_systems(*, actor: Person, rows: Iterable[Any]) -> list[KeySystemSheet]:
    """All the systems of a checked file or none. Raises Refused naming the line of a name that is taken."""
    made = []
    for row in rows:
        if row.system is None:
            raise Refused(f"Line {row.line}: {row.fault}", field="file")
        try:
            made.append(add_key_system(actor=actor, system=row.system, source=row.source, notes=row.notes))
        except Refused as refused:
            raise Refused(f"Line {row.line}: {refused}", field="file") from None
    return made
