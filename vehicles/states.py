"""Choices of what the shop knows about vehicles, and which moves a version of a procedure allows. No I/O."""

from django.db import models


class KindOfWork(models.TextChoices):
    LOCK_OUT = "lock_out", "Lock-out"
    DUPLICATE_KEY = "duplicate_key", "Duplicate key"
    ALL_KEYS_LOST = "all_keys_lost", "All keys lost"
    PROGRAMMING = "programming", "Remote or fob programming"
    BROKEN_KEY = "broken_key", "Broken key removal"
    IGNITION_LOCK = "ignition_lock", "Ignition lock"
    DOOR_LOCK = "door_lock", "Door lock"
    REKEY = "rekey", "Rekey"
    OTHER = "other", "Other"


class ItemRole(models.TextChoices):
    """What an item of stock is to the key of a family."""

    TRIAL = "trial", "Trial key"
    TRANSPONDER = "transponder", "Transponder blank"
    FOB = "fob", "Fob or remote"


class StepKind(models.TextChoices):
    DO = "do", "Do"
    CHECK = "check", "Check"
    MEASURE = "measure", "Measure"
    WAIT = "wait", "Wait"


class VersionState(models.TextChoices):
    PROPOSED = "proposed", "Proposed"
    ACCEPTED = "accepted", "Accepted"
    SUPERSEDED = "superseded", "Superseded"
    REJECTED = "rejected", "Rejected"


# A version moves so and no other way; the database refuses the rest.
MOVES = {
    VersionState.PROPOSED: frozenset({VersionState.ACCEPTED, VersionState.REJECTED}),
    VersionState.ACCEPTED: frozenset({VersionState.SUPERSEDED}),
    VersionState.SUPERSEDED: frozenset(),
    VersionState.REJECTED: frozenset(),
}
