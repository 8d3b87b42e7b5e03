"""A form sent twice is taken in once, and both times gets the same answer."""

from collections.abc import Callable
from uuid import UUID

from django.core.exceptions import SuspiciousOperation
from django.db import transaction
from django.http import HttpRequest

from shop.models import SentForm

FIELD = "form_key"


def once(request: HttpRequest, do: Callable[[], str]) -> str:
    """Runs `do` unless this very form was taken in before, and returns the address to show next.

    `do` makes its change and returns that address. The form's key is kept in the same transaction, so a second copy
    arriving at the same instant waits for the first, and a `do` that raises leaves the key free to be used again.
    A request without a key is simply done. Raises `SuspiciousOperation` (400) for a key that is malformed or was
    used by somebody else or on another page.
    """
    sent = request.POST.get(FIELD)
    if sent is None:
        return do()
    key = _read_key(sent)
    person = request.user if request.user.is_authenticated else None
    with transaction.atomic():
        form, is_new = SentForm.objects.get_or_create(key=key, defaults={"person": person, "path": request.path[:300]})
        if is_new:
            form.result_url = do()
            form.save(update_fields=["result_url"])
        elif form.person != person or form.path != request.path[:300]:
            raise SuspiciousOperation("This form key belongs to another form.")
    return form.result_url


def answered(request: HttpRequest) -> str:
    """The address that this very form was answered with before; "" for a new one.

    Asked first by a view that takes something away, since a second copy of its form finds nothing to fetch.
    """
    sent = request.POST.get(FIELD)
    if sent is None:
        return ""
    person = request.user if request.user.is_authenticated else None
    before = SentForm.objects.filter(key=_read_key(sent), person=person, path=request.path[:300])
    return before.values_list("result_url", flat=True).first() or ""


def _read_key(sent: str) -> UUID:
    try:
        return UUID(sent)
    except ValueError:
        raise SuspiciousOperation("This form key is not a key.") from None
