"""Writes on vehicle families and their variants."""

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from django.core.files.base import ContentFile, File
from django.db import IntegrityError, transaction
from django.utils import timezone

from shop.errors import Refused
from shop.staff.models import Person
from shop.stock.models import Item
from vehicles.families import VIN_PATTERN
from vehicles.models import FamilyItem, Variant, VehicleFamily
from vehicles.states import ItemRole

FIRST_YEAR = 1900
FACTS = frozenset(
    {
        "uid", "name", "make", "model_names", "year_from", "year_until", "market", "vin_pattern", "transponder",
        "has_remote", "key_system", "key_capacity", "code_place", "access_steps", "access_tools", "access_caution",
        "is_near_airbag", "notes", "source",
    }
)  # fmt: skip
ItemRoles = Iterable[tuple[Item, ItemRole | str]]


@transaction.atomic
def add_family(
    *, actor: Person | None, items: ItemRoles = (), at: datetime | None = None, **facts: Any
) -> VehicleFamily:
    """A new family. `items` are the items of stock its keys are made of, each with what it is to them.

    Raises Refused without name, make, models or years, for years out of order, and for a name the make has already.
    """
    family = VehicleFamily(changed_by=actor, changed_at=at or timezone.now())
    _write(family, facts)
    _set_items(family, items)
    return family


@transaction.atomic
def change_family(
    family: VehicleFamily, *, actor: Person | None, items: ItemRoles | None = None, **facts: Any
) -> VehicleFamily:
    """Other facts of a family; its items too when given. Raises Refused as `add_family` does."""
    fresh: VehicleFamily = VehicleFamily.objects.select_for_update().get(pk=family.pk)
    fresh.changed_by, fresh.changed_at = actor, timezone.now()
    _write(fresh, facts)
    if items is not None:
        _set_items(fresh, items)
    return fresh


@transaction.atomic
def switch_family(family: VehicleFamily, *, actor: Person | None, on: bool) -> VehicleFamily:
    """Takes a family into use, or out of use: it is no longer offered, and stays readable where it was used."""
    family.is_active, family.changed_by, family.changed_at = on, actor, timezone.now()
    family.save(update_fields=["is_active", "changed_by", "changed_at"])
    return family


def _write(family: VehicleFamily, facts: dict[str, Any]) -> None:
    if unknown := facts.keys() - FACTS:
        raise TypeError(f"A family has no {', '.join(sorted(unknown))}.")
    for name, value in facts.items():
        setattr(family, name, value)
    family.make, family.name = " ".join(family.make.split()), " ".join(family.name.split())
    family.model_names = _names(family.model_names or ())
    family.vin_pattern = "".join(family.vin_pattern.upper().split()).rstrip("?")
    _check(family)
    try:
        with transaction.atomic():
            if family.pk is None:
                family.save()
            else:
                family.save(
                    update_fields=[*facts, "make", "name", "model_names", "vin_pattern", "changed_by", "changed_at"]
                )
    except IntegrityError as error:
        if "family_name_once_in_make" not in str(error):
            raise
        raise Refused(f"{family.make} has a family called {family.name} already.", field="name") from None


def _names(names: Sequence[str]) -> list[str]:
    plain = (" ".join(name.split()) for name in names)
    return list(dict.fromkeys(name for name in plain if name))


def _check(family: VehicleFamily) -> None:
    if not family.make:
        raise Refused("Give the make.", field="make")
    if not family.name:
        raise Refused("Give the family a name.", field="name")
    if not family.model_names:
        raise Refused("Name at least one model.", field="model_names")
    if family.year_from is None or family.year_until is None:
        missing = "year_from" if family.year_from is None else "year_until"
        raise Refused("From which year until which? Without years every car of the model would fit.", field=missing)
    if family.year_from < FIRST_YEAR:
        raise Refused(f"No year before {FIRST_YEAR}.", field="year_from")
    if family.year_from > family.year_until:
        raise Refused("The last year lies before the first.", field="year_until")
    if family.year_until > timezone.localdate().year + 2:
        raise Refused("That year is too far ahead. Give the newest one you know.", field="year_until")
    if family.vin_pattern and not VIN_PATTERN.match(family.vin_pattern):
        raise Refused(
            "The beginning of a VIN: up to 17 letters and digits without I, O and Q, and ? for any character.",
            field="vin_pattern",
        )
    if family.key_capacity is not None and family.key_capacity < 1:
        raise Refused("A vehicle learns at least one key. Leave it empty when it is not known.", field="key_capacity")


def _set_items(family: VehicleFamily, items: ItemRoles) -> None:
    wanted = list(dict.fromkeys((item.pk, str(ItemRole(role))) for item, role in items))
    family.family_items.all().delete()
    FamilyItem.objects.bulk_create(FamilyItem(family=family, item_id=item, role=role) for item, role in wanted)


@transaction.atomic
def add_variant(
    family: VehicleFamily,
    *,
    actor: Person | None,
    name: str,
    sign: str,
    photo: "File[bytes] | bytes | None" = None,
    uid: Any = None,
) -> Variant:
    """A variant and the sign that tells it apart. `photo` is a picture that `shop.pictures` has made safe."""
    variant = Variant(family=family, **({"uid": uid} if uid else {}))
    return _write_variant(variant, name, sign, photo)


@transaction.atomic
def change_variant(
    variant: Variant, *, actor: Person | None, name: str, sign: str, photo: "File[bytes] | bytes | None" = None
) -> Variant:
    """Another name, sign or, when given, photo. Raises Refused as `add_variant` does."""
    fresh: Variant = Variant.objects.select_for_update().get(pk=variant.pk)
    return _write_variant(fresh, name, sign, photo)


@transaction.atomic
def switch_variant(variant: Variant, *, actor: Person | None, on: bool) -> Variant:
    """Takes a variant into use, or out of use: it is no longer asked about."""
    variant.is_active = on
    variant.save(update_fields=["is_active"])
    return variant


def _write_variant(variant: Variant, name: str, sign: str, photo: "File[bytes] | bytes | None") -> Variant:
    variant.name, variant.sign = " ".join(name.split()), sign.strip()
    if not variant.name:
        raise Refused("Give the variant a name.", field="name")
    if not variant.sign:
        raise Refused("Say what to look at: the sign that tells it apart.", field="sign")
    if photo:
        variant.photo = ContentFile(photo, name=f"{variant.uid}.jpg") if isinstance(photo, bytes) else photo
    try:
        with transaction.atomic():
            if variant.pk is None:
                variant.save()
            else:
                variant.save(update_fields=["name", "sign", "photo"])
    except IntegrityError:
        raise Refused(f"This family has a variant called {variant.name} already.", field="name") from None
    return variant
