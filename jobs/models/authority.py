"""Who may have this key: record rules, the checks made on jobs, photos of papers, and the openings of guarded data."""

from typing import Any, ClassVar

from django.conf import settings
from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.utils import timezone

from jobs.models.job import Job
from jobs.models.visit import Visit
from jobs.querysets_authority import AuthorityCheckQuerySet, OpeningQuerySet, RecordRuleQuerySet
from jobs.record_rules import ExceptionKind, Relationship, Rule, Thing
from jobs.record_rules.facts import PAPERS_WORDS, RELATIONSHIP_WORDS
from jobs.record_rules.rule import EXCEPTION_WORDS
from shop.guarded import NotPermitted, Permit
from shop.guarded.fields import GuardedField, GuardedStorage

PAPERS_STORAGE = GuardedStorage()


class Outcome(models.TextChoices):
    """How a check ended. Passed and excepted open the way; an asked exception waits for the owner."""

    PASSED = "passed", "Passed"
    EXCEPTED = "excepted", "Exception by the owner"
    ASKED = "asked", "Exception asked, not yet answered"
    DECLINED = "declined", "Exception declined"
    TURNED_AWAY = "turned_away", "Turned away"


class DocumentKind(models.TextChoices):
    LICENCE = "licence", "Driver's licence"
    IDENTITY_CARD = "identity_card", "Identity card"
    PASSPORT = "passport", "Passport"
    POLICE = "police", "Police warrant card"
    OTHER = "other", "Other document"


class RecordRule(models.Model):
    """One version of a record rule. Never changed: an edit makes the next version under the same key."""

    key = models.CharField(max_length=36)
    version = models.PositiveIntegerField(default=1)
    name = models.CharField(max_length=80)
    place = models.CharField(max_length=120, blank=True)
    citation = models.CharField(max_length=300, blank=True)
    is_to_be_checked = models.BooleanField(default=True, help_text="Check with your licensing authority.")
    is_shipped = models.BooleanField(default=False)
    data = models.JSONField()
    made_at = models.DateTimeField(default=timezone.now)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")

    objects: ClassVar[Any] = RecordRuleQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["key", "version"], name="record_rule_version_once")]

    def __str__(self) -> str:
        return f"{self.name}, version {self.version}"

    @property
    def rule(self) -> Rule:
        """The rule of the pure core."""
        return Rule.from_json(self.data, name=self.name, place=self.place, citation=self.citation)


class RuleChoice(models.Model):
    """The shop chose this rule; the newest row holds. Never changed or deleted."""

    rule = models.ForeignKey(RecordRule, on_delete=models.PROTECT, related_name="choices")
    chosen_at = models.DateTimeField(default=timezone.now)
    chosen_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"{self.rule} chosen"


class AuthorityCheck(models.Model):
    """One check of who asks, and how it ended. Never changed: another attempt is another row; the newest holds.

    `rule` is the version under which it was recorded, `kept_until` the last day on which it is kept by that rule.
    `papers` are values of `record_rules.Papers`. Guarded: `born_on` (ISO date), `document_number`, `signature`
    (JSON of `signatures.Signature`). `answers` is the asked exception that an owner's row answers.
    """

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="authority_checks")
    visit = models.ForeignKey(Visit, null=True, on_delete=models.PROTECT, related_name="authority_checks")
    rule = models.ForeignKey(RecordRule, on_delete=models.PROTECT, related_name="checks")
    outcome = models.CharField(max_length=11, choices=Outcome)
    thing = models.CharField(max_length=8, choices=[(each.value, each.value.capitalize()) for each in Thing])
    at = models.DateTimeField(default=timezone.now)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    kept_until = models.DateField()

    name = models.CharField(max_length=120, blank=True)
    address = models.CharField(max_length=200, blank=True)
    phone = models.CharField(max_length=20, blank=True)
    relationship = models.CharField(
        max_length=16, blank=True, choices=[(str(k), v) for k, v in RELATIONSHIP_WORDS.items()]
    )
    document_kind = models.CharField(max_length=13, blank=True, choices=DocumentKind)
    papers = ArrayField(
        models.CharField(max_length=12, choices=[(str(k), v) for k, v in PAPERS_WORDS.items()]),
        default=list,
        blank=True,
    )
    vin_on_car = models.CharField(max_length=17, blank=True)
    vin_on_papers = models.CharField(max_length=17, blank=True)
    vins_agree = models.BooleanField(null=True, help_text="Unknown when the VIN on the car was not read.")
    lock_type = models.CharField(max_length=120, blank=True)
    confirmed_how = models.CharField(max_length=200, blank=True)
    is_key_marked = models.BooleanField(null=True, help_text="The key to copy is marked “do not duplicate”.")

    born_on = GuardedField()
    document_number = GuardedField()
    document_fingerprint = models.CharField(max_length=64, blank=True, db_index=True)
    signature = GuardedField()
    is_signature_drawn = models.BooleanField(null=True)

    exception = models.CharField(max_length=6, blank=True, choices=[(str(k), v) for k, v in EXCEPTION_WORDS.items()])
    reason = models.CharField(max_length=300, blank=True)
    lacked = models.JSONField(default=list, help_text="What the rule lacked, in words, when it ended otherwise.")
    answers = models.OneToOneField("self", null=True, on_delete=models.PROTECT, related_name="answered_by")

    objects: ClassVar[Any] = AuthorityCheckQuerySet.as_manager()

    class Meta:
        ordering = ["id"]
        indexes = [
            models.Index(fields=["job", "-id"], name="authority_job_newest"),
            models.Index(fields=["kept_until"], name="authority_kept_until"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(outcome="passed") | ~models.Q(reason=""), name="authority_not_passed_has_reason"
            ),
            models.CheckConstraint(
                condition=models.Q(outcome__in=["excepted", "asked", "declined"]) ^ models.Q(exception=""),
                name="authority_exception_has_kind",
            ),
        ]

    def __str__(self) -> str:
        return f"Authority for {self.job}: {self.get_outcome_display().lower()}"

    @property
    def papers_words(self) -> str:
        return ", ".join(words for kind, words in PAPERS_WORDS.items() if kind in self.papers)

    @property
    def is_danger(self) -> bool:
        return self.exception == ExceptionKind.DANGER

    @property
    def relation(self) -> Relationship | None:
        return Relationship(self.relationship) if self.relationship else None


class AuthorityPhoto(models.Model):
    """A photo of papers, encrypted on disk. Until its check is recorded, `check` is empty; such photos do not last."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="authority_photos")
    authority_check = models.ForeignKey(AuthorityCheck, null=True, on_delete=models.PROTECT, related_name="photos")
    file = models.FileField(upload_to="authority/%Y/%m", storage=PAPERS_STORAGE)
    taken_at = models.DateTimeField(default=timezone.now)
    taken_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")

    KIND: ClassVar[str] = "jobs.authorityphoto.file"

    def __str__(self) -> str:
        return f"Photo of papers for {self.job}"

    def read(self, permit: Permit) -> bytes:
        """The JPEG. Raises NotPermitted without a permit for photos of papers."""
        if not isinstance(permit, Permit) or self.KIND not in permit.kinds:
            raise NotPermitted("This may only be opened with a reason, and the opening is recorded.")
        return PAPERS_STORAGE.read(str(self.file.name))


class Opening(models.Model):
    """Guarded data of a job was opened: who, what, why, when. Chained by hash; never changed or deleted.

    `kinds` are column names as permits carry them; `seal` is the keyed hash of `hash`.
    """

    number = models.PositiveBigIntegerField(unique=True)
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="openings")
    person_name = models.CharField(max_length=100)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="openings")
    job_number = models.PositiveBigIntegerField()
    kinds = ArrayField(models.CharField(max_length=80))
    reason = models.CharField(max_length=300)
    at = models.DateTimeField(default=timezone.now)
    previous = models.CharField(max_length=64, blank=True)
    hash = models.CharField(max_length=64, unique=True)
    seal = models.CharField(max_length=64)

    objects: ClassVar[Any] = OpeningQuerySet.as_manager()

    class Meta:
        ordering = ["number"]
        indexes = [models.Index(fields=["job", "person", "-at"], name="opening_cover")]
        constraints = [
            models.CheckConstraint(condition=~models.Q(reason=""), name="opening_has_reason"),
            models.CheckConstraint(condition=~models.Q(kinds=[]), name="opening_of_something"),
        ]

    def __str__(self) -> str:
        return f"Opening {self.number}"

    @property
    def kinds_words(self) -> str:
        """`Born on, signature`: the columns as people call them."""
        words = [kind.rpartition(".")[2].replace("_", " ") for kind in self.kinds]
        named = [
            "photos of papers" if kind == AuthorityPhoto.KIND else word
            for kind, word in zip(self.kinds, words, strict=True)
        ]
        return ", ".join(named).capitalize()
