"""Code books: the shop's licensed tables from key codes to bittings, and who looked into them."""

from typing import Any, ClassVar

from django.conf import settings
from django.contrib.postgres.fields import ArrayField
from django.contrib.postgres.indexes import GinIndex
from django.db import models
from django.utils import timezone

from vehicles.models.key_system import KeySystemSheet
from vehicles.models.long_work import LongWork
from vehicles.querysets_keys import CodeBookQuerySet, CodeRowQuerySet


class CodeBook(models.Model):
    """One code series of one key system. `code_format` spells its codes: # a digit, @ a letter, the rest itself."""

    name = models.CharField(max_length=80, unique=True)
    key_system = models.ForeignKey(KeySystemSheet, on_delete=models.PROTECT, related_name="code_books")
    code_format = models.CharField(max_length=30, blank=True)
    first_code = models.CharField(max_length=20, blank=True)
    last_code = models.CharField(max_length=20, blank=True)
    source = models.CharField(max_length=300)
    licence_note = models.TextField()
    row_count = models.PositiveIntegerField(default=0)
    is_active = models.BooleanField(default=True)
    imported_at = models.DateTimeField(default=timezone.now)
    imported_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+")

    objects: ClassVar[Any] = CodeBookQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(source="") & ~models.Q(licence_note=""), name="code_book_licensed"
            )
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def range(self) -> str:
        """`AL0001 to AL2000`, or nothing."""
        return " to ".join(part for part in (self.first_code, self.last_code) if part)


class CodeRow(models.Model):
    """One code and its bitting. `tokens` name its cuts together with their key system (see
    `vehicles.code_tokens`), so that codes with known cuts are found by one index whatever cuts are unknown."""

    book = models.ForeignKey(CodeBook, on_delete=models.CASCADE, related_name="rows")
    code = models.CharField(max_length=20)
    labels = ArrayField(models.CharField(max_length=8))
    tokens = ArrayField(models.IntegerField())

    objects: ClassVar[Any] = CodeRowQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["code", "book"], name="code_once_in_book")]
        indexes = [GinIndex(fields=["tokens"], name="code_row_tokens", fastupdate=True, gin_pending_list_limit=65_536)]

    def __str__(self) -> str:
        return self.code


class CodeBookLook(models.Model):
    """One look into the code books: who, when, why, for which job. Never changed, never deleted.

    The code or bitting asked for is kept only as a keyed hash: enough to answer "was this code looked up?".
    """

    class Kind(models.TextChoices):
        CODE = "code", "Code to cuts"
        CUTS = "cuts", "Cuts to codes"

    looked_at = models.DateTimeField(default=timezone.now, db_index=True)
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=4, choices=Kind)
    book = models.ForeignKey(CodeBook, null=True, on_delete=models.PROTECT, related_name="looks")
    key_system = models.ForeignKey(KeySystemSheet, null=True, on_delete=models.PROTECT, related_name="looks")
    job_number = models.CharField(max_length=20, blank=True)
    reason = models.CharField(max_length=200)
    fingerprint = models.CharField(max_length=64, db_index=True)
    found = models.PositiveIntegerField()

    class Meta:
        constraints = [models.CheckConstraint(condition=~models.Q(reason=""), name="code_look_has_reason")]
        indexes = [models.Index(fields=["job_number"], name="code_look_job", condition=~models.Q(job_number=""))]

    def __str__(self) -> str:
        return f"{self.person} {self.looked_at:%Y-%m-%d %H:%M}"


class CodeBookImport(LongWork):
    """A file on its way to become a code book: checked whole first, taken in whole or not at all.

    `facts` are the typed facts of the book, `findings` what the check found. The file is kept until it is taken in or
    put aside.
    """

    class Step(models.TextChoices):
        CHECK = "check", "Checking"
        TAKE = "take", "Taking in"

    key_system = models.ForeignKey(KeySystemSheet, on_delete=models.PROTECT, related_name="+")
    step = models.CharField(max_length=5, choices=Step, default=Step.CHECK)
    facts = models.JSONField()
    file_name = models.CharField(max_length=200)
    content = models.BinaryField()
    findings = models.JSONField(default=dict)
    book = models.ForeignKey(CodeBook, null=True, on_delete=models.SET_NULL, related_name="+")

    def __str__(self) -> str:
        return self.file_name
