"""Looks into the code books: each is written down before its answer is given."""

from collections.abc import Callable, Sequence
from datetime import datetime

from django.db import transaction
from django.db.models import Count, Window
from django.utils import timezone

from shop.errors import Refused
from shop.guarded import keyring
from shop.staff.models import Person
from shop.staff.roles import Role
from vehicles.code_table import plain_code
from vehicles.models import CodeBookLook, CodeRow, KeySystemSheet

# Asks whether a person may look for this job; raises Refused when not. Apps above hang theirs in with `require`.
Check = Callable[[Person, str], object]
_checks: list[Check] = []
MOST_SHOWN = 500


def require(check: Check) -> Check:
    """Adds a check that every look must pass, called with the person and the job number (empty for none)."""
    if check not in _checks:
        _checks.append(check)
    return check


@transaction.atomic
def look_up(
    code: str,
    *,
    actor: Person,
    reason: str,
    job_number: str = "",
    check: Check | None = None,
    at: datetime | None = None,
) -> list[CodeRow]:
    """The rows of this code in all books in use, with book and key system; the look is written down also when nothing
    is found. Raises Refused without a code, a reason, or for a technician a job number, and as `check` says."""
    plain = plain_code(code)
    if not plain:
        raise Refused("Give a code.", field="code")
    reason, job_number = _may_look(actor, reason, job_number, check)
    rows = rows_with_code(plain)
    CodeBookLook.objects.create(
        kind=CodeBookLook.Kind.CODE,
        person=actor,
        looked_at=at or timezone.now(),
        book=rows[0].book if rows else None,
        key_system=rows[0].book.key_system if rows else None,
        job_number=job_number,
        reason=reason,
        fingerprint=fingerprint(plain),
        found=len(rows),
    )
    return rows


@transaction.atomic
def look_for_cuts(
    sheet: KeySystemSheet,
    known: Sequence[str | None],
    *,
    actor: Person,
    reason: str,
    job_number: str = "",
    check: Check | None = None,
    at: datetime | None = None,
) -> tuple[list[CodeRow], int]:
    """The codes whose cuts fit what is known (None for an unknown cut), at most 500, and how many there are in all.
    The look is written down. Raises Refused as `look_up` does, and when no cut is known."""
    reason, job_number = _may_look(actor, reason, job_number, check)
    if len(known) != sheet.system.cuts:
        raise Refused(
            f"{len(known)} cuts were given; {sheet.name} has {sheet.system.cuts}. Write ? for an unknown cut.",
            field="cuts",
        )
    if not any(label is not None for label in known):
        raise Refused("Give at least one known cut.", field="cuts")
    rows, count = rows_with_cuts(sheet, known)
    CodeBookLook.objects.create(
        kind=CodeBookLook.Kind.CUTS,
        person=actor,
        looked_at=at or timezone.now(),
        key_system=sheet,
        job_number=job_number,
        reason=reason,
        fingerprint=fingerprint(" ".join(label or "?" for label in known)),
        found=count,
    )
    return rows, count


def rows_with_code(plain: str) -> list[CodeRow]:
    """The search of `look_up` alone."""
    rows = CodeRow.objects.readable().with_code(plain).select_related("book__key_system")
    return list(rows.order_by("book__name"))


def rows_with_cuts(sheet: KeySystemSheet, known: Sequence[str | None]) -> tuple[list[CodeRow], int]:
    """The search of `look_for_cuts` alone: the first rows, and how many fit in all, in one query."""
    fitting = CodeRow.objects.readable().with_cuts(sheet, known).select_related("book")
    rows = list(fitting.annotate(in_all=Window(Count("*"))).order_by("code")[:MOST_SHOWN])
    return rows, rows[0].in_all if rows else 0


def _may_look(actor: Person, reason: str, job_number: str, check: Check | None) -> tuple[str, str]:
    reason, job_number = reason.strip(), job_number.strip()
    if not reason:
        raise Refused("Say why you look this up. It is written down.", field="reason")
    if len(reason) > 200:
        raise Refused("Say it in at most 200 letters.", field="reason")
    if not job_number and not actor.roles & {Role.OFFICE, Role.OWNER}:
        raise Refused("Give the number of the job this is for.", field="job_number")
    for each in [*_checks, *([check] if check else [])]:
        each(actor, job_number)
    return reason, job_number


def fingerprint(text: str) -> str:
    """A keyed hash of what was looked up: the same text gives the same hash, which does not give the text."""
    return keyring().fingerprint("code look", text)
