"""Calls before they are jobs: what was told, drafts to take up again, what is known of a caller."""

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from django.db.models import Exists, F, OuterRef
from django.utils import timezone

from billing.models import Invoice
from jobs.models import CallDraft, Job
from jobs.states import KindOfWork, LockedIn
from shop.customers.models import Address, Customer
from shop.models import SentForm
from vehicles.models import Vehicle

ENDED = "ended"
LAST_JOBS = 3
ENDED_SHOWN_DAYS = 30
MOST_DRAFTS = 100
# What a slip says before anybody has typed.
PREFILLED = frozenset({"locked_in", "payer", "promise_day", "promise_from", "promise_until", "dropped", "total"})

END_REASONS = {
    "price": "Price too high",
    "asking": "Only asking",
    "time": "Could not come in time",
    "solved": "No longer needed",
    "nonsense": "Wrong number or nonsense",
    "other": "Another reason",
}
THROWN_AWAY = "thrown_away"


@dataclass(frozen=True)
class CallFacts:
    """A call in the words of the domain, checked. Parts left empty were not told."""

    customer: Customer | None
    vehicle: Vehicle | None
    new_customer: dict[str, Any]
    new_vehicle: dict[str, Any]
    new_address: dict[str, Any]
    job: dict[str, Any] = field(default_factory=dict)
    accepted_by: str = ""


@dataclass(frozen=True)
class KnownCaller:
    """What the office sees as soon as it is known who calls."""

    customer: Customer
    vehicles: list[Vehicle]
    addresses: list[Address]
    last_jobs: list[Job]
    balance: Decimal
    overdue: Decimal


@dataclass(frozen=True)
class KeptCall:
    """A draft as it stands in a list."""

    draft: CallDraft
    who: str
    what: str
    total: str
    reason: str


def known_caller(pk: int | str | None) -> KnownCaller | None:
    """Everything known of a customer who calls, or None. Six queries."""
    customer = Customer.objects.filter(pk=int(pk or 0)).prefetch_related("phones").first() if _is_id(pk) else None
    if customer is None:
        return None
    open_sums = Invoice.objects.filter(customer=customer).unpaid().values_list("due_on", F("total") - F("paid"))
    owed, today = list(open_sums), timezone.localdate()
    return KnownCaller(
        customer=customer,
        vehicles=list(Vehicle.objects.filter(customer=customer).order_by("-id")[:12]),
        addresses=list(customer.addresses.all()[:6]),
        last_jobs=list(customer.jobs.select_related("vehicle").order_by("-called_at")[:LAST_JOBS]),
        balance=sum((amount for _, amount in owed), Decimal(0)),
        overdue=sum((amount for due_on, amount in owed if due_on and due_on < today), Decimal(0)),
    )


def unfinished_calls() -> list[KeptCall]:
    """Drafts that became no job and were not ended, newest first."""
    return [_shown(draft) for draft in _drafts().exclude(typed__has_key=ENDED)[:MOST_DRAFTS]]


def ended_calls(now: datetime | None = None) -> list[KeptCall]:
    """Calls of the last thirty days that were ended without a job."""
    since = (now or timezone.now()) - timedelta(days=ENDED_SHOWN_DAYS)
    return [_shown(draft) for draft in _drafts().filter(typed__has_key=ENDED, changed_at__gte=since)[:MOST_DRAFTS]]


def is_worth_keeping(typed: dict[str, str]) -> bool:
    """True when somebody typed something; a slip as it is laid out says nothing yet."""
    return any(value.strip() for name, value in typed.items() if name not in PREFILLED and not name.startswith("line-"))


def _drafts() -> Any:
    # A keeping that was under way while its call was taken may come in late: such a draft is a job already.
    taken = SentForm.objects.filter(key=OuterRef("key"))
    return CallDraft.objects.select_related("started_by").filter(~Exists(taken))


def _shown(draft: CallDraft) -> KeptCall:
    typed = draft.typed
    kind = typed.get("kind_of_work", "")
    label = KindOfWork(kind).label if kind in KindOfWork.values else ""
    place = ", ".join(part for part in (typed.get("street", ""), typed.get("town", "")) if part)
    vehicle = " ".join(part for part in (typed.get("make", ""), typed.get("model", ""), typed.get("plate", "")) if part)
    locked_in = typed.get("locked_in", "")
    danger = f"{LockedIn(locked_in).label} locked in" if locked_in in set(LockedIn.values) - {LockedIn.NOBODY} else ""
    vehicle = vehicle or typed.get("vin", "").upper()
    return KeptCall(
        draft=draft,
        who=" · ".join(p for p in (typed.get("name") or typed.get("caller_name", ""), typed.get("phone", "")) if p),
        what=" · ".join(part for part in (danger, label, vehicle, place) if part),
        total=typed.get("total", ""),
        reason=END_REASONS.get(typed.get(ENDED, ""), "Thrown away"),
    )


def _is_id(pk: int | str | None) -> bool:
    return str(pk or "").isdecimal() and 0 < int(pk or 0) < 2**63
