"""People who sign in, their roles, and when they work."""

from decimal import Decimal
from typing import Any, ClassVar

from django.contrib.auth.models import AbstractBaseUser, BaseUserManager
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models.functions import Lower
from django.utils import timezone
from django.utils.crypto import salted_hmac

from shop.staff.querysets import PersonQuerySet
from shop.staff.roles import Role
from shop.staff.week import week_in_words


class PersonManager(BaseUserManager["Person"].from_queryset(PersonQuerySet)):  # type: ignore[misc]
    """Finds people by e-mail without regard to capitals."""

    def get_by_natural_key(self, username: str | None) -> "Person":
        return self.get(email__iexact=username)


class Person(AbstractBaseUser):
    """Somebody who signs in. One person may hold several roles."""

    email = models.EmailField(unique=True)
    name = models.CharField(max_length=100)
    phone = models.CharField(max_length=20, blank=True)
    is_active = models.BooleanField(default=True)
    is_owner = models.BooleanField(default=False)
    is_office = models.BooleanField(default=False)
    is_technician = models.BooleanField(default=False)
    hourly_cost = models.DecimalField(
        max_digits=8, decimal_places=2, default=Decimal("0"), validators=[MinValueValidator(Decimal("0"))]
    )
    licence_number = models.CharField(max_length=60, blank=True)
    sign_in_round = models.PositiveIntegerField(
        default=0, editable=False, help_text="Raised to end every session of this person for good."
    )

    objects: ClassVar[Any] = PersonManager()

    USERNAME_FIELD = "email"
    REQUIRED_FIELDS = ["name"]

    class Meta:
        constraints = [
            models.UniqueConstraint(Lower("email"), name="person_email_once"),
            models.CheckConstraint(condition=models.Q(hourly_cost__gte=0), name="person_cost_not_negative"),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def first_name(self) -> str:
        return self.name.split(" ")[0]

    @property
    def roles(self) -> frozenset[Role]:
        held = {Role.OWNER: self.is_owner, Role.OFFICE: self.is_office, Role.TECHNICIAN: self.is_technician}
        return frozenset(role for role, holds in held.items() if holds)

    @property
    def roles_in_order(self) -> list[Role]:
        return [role for role in Role if role in self.roles]

    @property
    def week_in_words(self) -> str:
        """`Mon–Fri 08:00–17:00, Sat 09:00–13:00`: neighbouring days with the same hours together."""
        return week_in_words([(shift.weekday, shift.starts, shift.ends) for shift in self.weekly_shifts.all()])

    def _get_session_auth_hash(self, secret: str | None = None) -> str:
        # Django's own ties a session to the password; this ties it to the round as well, so that a person who is
        # switched off and later on again does not find an old session open.
        held = f"{self.password}:{self.sign_in_round}"
        return salted_hmac("shop.staff.session", held, secret=secret, algorithm="sha256").hexdigest()


class WeeklyShift(models.Model):
    """The hours one person works on one day of every week (0 is Monday), in the shop's time."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="weekly_shifts")
    weekday = models.PositiveSmallIntegerField()
    starts = models.TimeField()
    ends = models.TimeField()

    class Meta:
        ordering = ["weekday", "starts"]
        constraints = [
            models.UniqueConstraint(fields=["person", "weekday"], name="shift_one_a_day"),
            models.CheckConstraint(condition=models.Q(weekday__lte=6), name="shift_weekday_in_week"),
            models.CheckConstraint(condition=models.Q(starts__lt=models.F("ends")), name="shift_starts_before_end"),
        ]

    def __str__(self) -> str:
        return f"{self.person} {self.weekday} {self.starts}-{self.ends}"


class DayOff(models.Model):
    """A day on which a person does not work although the week says so."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="days_off")
    on = models.DateField()
    reason = models.CharField(max_length=100, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["person", "on"], name="day_off_once")]

    def __str__(self) -> str:
        return f"{self.person} off on {self.on}"


class SignInTry(models.Model):
    """One attempt to sign in with an e-mail from a network address; kept to slow down guessing."""

    email = models.CharField(max_length=254)
    address = models.CharField(max_length=45, blank=True)
    at = models.DateTimeField(default=timezone.now)
    is_right = models.BooleanField(default=False)

    class Meta:
        indexes = [
            models.Index(fields=["email", "at"], name="sign_in_try_email"),
            models.Index(fields=["address", "at"], name="sign_in_try_address"),
            models.Index(fields=["at"], name="sign_in_try_at"),
        ]

    def __str__(self) -> str:
        return f"{self.email} from {self.address}"
