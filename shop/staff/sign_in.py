"""Who is at the door: an e-mail and a password, with guessing slowed down."""

from datetime import datetime, timedelta

from django.contrib.auth.hashers import make_password
from django.db import models
from django.utils import timezone

from shop.staff.errors import SwitchedOff, TooManyTries, WrongSignIn
from shop.staff.models import Person, SignInTry
from shop.staff.rules import (
    KEPT_WRONG,
    KNOWN_FOR,
    MOST_FOR_ADDRESS,
    MOST_FOR_BOTH,
    MOST_FOR_EMAIL,
    WINDOW,
    Limit,
    minutes_to_wait,
)


def sign_in(*, email: str, password: str, address: str, at: datetime | None = None) -> Person:
    """The person with this e-mail and password. Raises WrongSignIn, SwitchedOff or TooManyTries.

    `address` is the network address of the browser. Not one transaction: a wrong try stays written down. It is
    written before the password is looked at, so that many tries in the same instant count each other.
    """
    now = at or timezone.now()
    tried = SignInTry.objects.create(email=email.strip().lower()[:254], address=address[:45], at=now)
    if wait := minutes_to_wait(_limits(tried), now=now):
        tried.delete()
        raise TooManyTries(f"Too many wrong tries. Wait {wait} min, then try again; nothing is locked for good.")
    person = _person_with(tried.email, password)
    _forget_wrong(tried)
    if not person.is_active:
        raise SwitchedOff("Your sign-in is switched off. Ask the owner of the shop.")
    return person


def _person_with(email: str, password: str) -> Person:
    person: Person | None = Person.objects.filter(email__iexact=email).first()
    if person is None:
        # As slow as for an e-mail that exists, so that the time of the answer tells nothing.
        make_password(password)
    if person is None or not person.check_password(password):
        raise WrongSignIn("This e-mail and password do not belong together.")
    return person


def _limits(tried: SignInTry) -> list[Limit]:
    wrong = SignInTry.objects.filter(is_right=False, at__gt=tried.at - WINDOW).exclude(pk=tried.pk)
    here = SignInTry.objects.filter(email=tried.email, address=tried.address)
    limits = [_limit(MOST_FOR_BOTH, wrong.filter(email=tried.email, address=tried.address))]
    if not here.filter(is_right=True, at__gt=tried.at - KNOWN_FOR).exists():
        limits.append(_limit(MOST_FOR_EMAIL, wrong.filter(email=tried.email)))
        limits.append(_limit(MOST_FOR_ADDRESS, wrong.filter(address=tried.address)))
    return limits


def _limit(most: int, wrong: "models.QuerySet[SignInTry]") -> Limit:
    return Limit(most, list(wrong.order_by("-at").values_list("at", flat=True)[:most]))


def _forget_wrong(tried: SignInTry) -> None:
    tried.is_right = True
    tried.save(update_fields=["is_right"])
    wrong = models.Q(email=tried.email, address=tried.address) | models.Q(at__lt=tried.at - KEPT_WRONG)
    SignInTry.objects.filter(wrong, is_right=False).delete()
    SignInTry.objects.filter(at__lt=tried.at - KNOWN_FOR - timedelta(days=1)).delete()
