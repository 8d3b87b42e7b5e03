"""Every write on people, their hours and their sign-in."""

from collections.abc import Iterable, Mapping
from datetime import date, time, timedelta
from typing import Any

from django.db import IntegrityError, connection, transaction

from shop.actions import change_shop
from shop.errors import Refused
from shop.staff.errors import AlreadySetUp, LastOwner, NotYourself
from shop.staff.models import DayOff, Person, WeeklyShift
from shop.staff.roles import Role

LONGEST_ABSENCE = timedelta(days=92)
FACTS = frozenset({"name", "email", "phone", "hourly_cost", "licence_number"})


@transaction.atomic
def set_up_shop(*, name: str, email: str, password: str, shop_name: str) -> Person:
    """Makes the first owner and names the shop. Raises AlreadySetUp as soon as one person exists."""
    # Two first visitors at once, or one beside the demo: whoever locks the table second finds the first's row.
    with connection.cursor() as cursor:
        cursor.execute(f'LOCK TABLE "{Person._meta.db_table}" IN SHARE ROW EXCLUSIVE MODE')
    if Person.objects.exists():
        raise AlreadySetUp("The shop is set up already. Sign in instead.")
    person = add_person(actor=None, name=name, email=email, password=password, roles=[Role.OWNER, Role.OFFICE])
    change_shop(actor=person, name=shop_name)
    return person


@transaction.atomic
def add_person(
    *, actor: Person | None, name: str, email: str, roles: Iterable[Role | str], password: str | None, **facts: Any
) -> Person:
    """Adds somebody who may sign in; without a password they cannot until one is set.

    `facts` may hold phone (E.164), hourly_cost and licence_number. Raises Refused for an e-mail that is taken and for
    nobody's roles.
    """
    person = Person(is_active=True)
    _apply(person, {"name": name, "email": email, "roles": roles, **facts})
    person.set_password(password)
    _save(person)
    return person


@transaction.atomic
def change_person(person: Person, *, actor: Person, **facts: Any) -> Person:
    """Changes name, email, roles, phone, hourly_cost or licence_number. Raises LastOwner and Refused."""
    owners = _lock_owners()
    fresh = _lock(person)
    changed = _apply(fresh, facts)
    if fresh.is_active and not fresh.is_owner and owners <= {fresh.pk} and person.pk in owners:
        raise LastOwner(field="roles")
    _save(fresh, fields=changed)
    return fresh


@transaction.atomic
def switch_off(person: Person, *, actor: Person) -> Person:
    """Ends a person's sessions and refuses their sign-in. Raises NotYourself and LastOwner."""
    if person == actor:
        raise NotYourself("You cannot switch off yourself. Another owner can.")
    owners = _lock_owners()
    fresh = _lock(person)
    if owners <= {fresh.pk} and fresh.pk in owners:
        raise LastOwner
    fresh.is_active = False
    fresh.sign_in_round += 1
    fresh.save(update_fields=["is_active", "sign_in_round"])
    return fresh


@transaction.atomic
def switch_on(person: Person, *, actor: Person) -> Person:
    """Lets a person sign in again; they start a new session."""
    fresh = _lock(person)
    fresh.is_active = True
    fresh.save(update_fields=["is_active"])
    return fresh


@transaction.atomic
def set_password(person: Person, *, actor: Person, password: str) -> Person:
    """Sets a password that the form has checked; every other session of the person ends."""
    fresh = _lock(person)
    fresh.set_password(password)
    fresh.save(update_fields=["password"])
    return fresh


@transaction.atomic
def set_week(person: Person, *, actor: Person | None, shifts: Mapping[int, tuple[time, time]]) -> list[WeeklyShift]:
    """Makes these the hours of a person's week, by weekday (0 is Monday); days not named are free."""
    for starts, ends in shifts.values():
        if starts >= ends:
            raise Refused("A shift begins before it ends.")
    _lock(person)
    person.weekly_shifts.exclude(weekday__in=shifts).delete()
    return [
        person.weekly_shifts.update_or_create(weekday=weekday, defaults={"starts": starts, "ends": ends})[0]
        for weekday, (starts, ends) in shifts.items()
    ]


@transaction.atomic
def add_day_off(
    person: Person, *, actor: Person | None, on: date, until: date | None = None, reason: str = ""
) -> list[DayOff]:
    """A day off, or every day from `on` to `until`. Days that are off already take the new reason."""
    last = until or on
    if last < on:
        raise Refused("The last day off comes before the first.", field="until")
    if last - on > LONGEST_ABSENCE:
        raise Refused(f"At most {LONGEST_ABSENCE.days} days at once.", field="until")
    days = [on + timedelta(days=each) for each in range((last - on).days + 1)]
    return [person.days_off.update_or_create(on=day, defaults={"reason": reason})[0] for day in days]


@transaction.atomic
def remove_day_off(day_off: DayOff, *, actor: Person | None) -> DayOff:
    """Takes a day off back: the person works that day as their week says."""
    DayOff.objects.filter(pk=day_off.pk).delete()
    return day_off


def _lock(person: Person) -> Person:
    locked: Person = Person.objects.select_for_update().get(pk=person.pk)
    return locked


def _lock_owners() -> set[int]:
    """The owners who can sign in, locked, so that two of them cannot switch off each other in the same instant."""
    owners = Person.objects.active().filter(is_owner=True).order_by("pk")
    return set(owners.select_for_update().values_list("pk", flat=True))


def _apply(person: Person, facts: dict[str, Any]) -> list[str]:
    """Puts facts on a person, unsaved, and returns the names of the fields."""
    unknown = facts.keys() - FACTS - {"roles"}
    if unknown:
        raise TypeError(f"A person has no {', '.join(sorted(unknown))}.")
    fields = {name: value for name, value in facts.items() if name in FACTS}
    if "email" in fields:
        fields["email"] = fields["email"].strip().lower()
    if "roles" in facts:
        fields |= _role_fields(facts["roles"])
    for name, value in fields.items():
        setattr(person, name, value)
    return list(fields)


def _role_fields(roles: Iterable[Role | str]) -> dict[str, bool]:
    held = {Role(role) for role in roles}
    if not held:
        raise Refused("Give at least one role.", field="roles")
    return {f"is_{role}": role in held for role in Role}


def _save(person: Person, fields: list[str] | None = None) -> None:
    try:
        with transaction.atomic():
            person.save(update_fields=fields)
    except IntegrityError as error:
        if "email" not in str(error):
            raise
        raise Refused("Somebody has this e-mail already.", field="email") from None
