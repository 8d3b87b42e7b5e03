"""What state a job and a visit can be in, and which moves are allowed. No I/O."""

from django.db import models

from vehicles.states import KindOfWork as KindOfWork


class LockedIn(models.TextChoices):
    NOBODY = "nobody", "Nobody"
    CHILD = "child", "A child"
    VULNERABLE = "vulnerable", "A vulnerable person"
    ANIMAL = "animal", "An animal"


class JobState(models.TextChoices):
    WAITING = "waiting", "Waiting"
    BOOKED = "booked", "Booked"
    ON_THE_WAY = "on_the_way", "On the way"
    ON_SITE = "on_site", "On site"
    FINISHED = "finished", "Finished"
    CALLED_OFF = "called_off", "Called off"
    TURNED_AWAY = "turned_away", "Turned away"
    NO_ANSWER = "no_answer", "No answer"


class VisitState(models.TextChoices):
    BOOKED = "booked", "Booked"
    ON_THE_WAY = "on_the_way", "On the way"
    ON_SITE = "on_site", "On site"
    FINISHED = "finished", "Finished"
    CALLED_OFF = "called_off", "Called off"


OPEN_JOBS = frozenset({JobState.WAITING, JobState.BOOKED, JobState.ON_THE_WAY, JobState.ON_SITE})
CLOSED_UNDONE = frozenset({JobState.CALLED_OFF, JobState.TURNED_AWAY, JobState.NO_ANSWER})
UNDER_WAY = frozenset({VisitState.ON_THE_WAY, VisitState.ON_SITE})
MOVABLE_VISITS = frozenset({VisitState.BOOKED})
LIVE_VISITS = frozenset({VisitState.BOOKED, VisitState.ON_THE_WAY, VisitState.ON_SITE})

VISIT_MOVES: dict[VisitState, frozenset[VisitState]] = {
    VisitState.BOOKED: frozenset({VisitState.ON_THE_WAY, VisitState.ON_SITE, VisitState.CALLED_OFF}),
    VisitState.ON_THE_WAY: frozenset({VisitState.ON_SITE, VisitState.BOOKED, VisitState.CALLED_OFF}),
    VisitState.ON_SITE: frozenset({VisitState.FINISHED, VisitState.CALLED_OFF}),
    VisitState.FINISHED: frozenset(),
    VisitState.CALLED_OFF: frozenset(),
}

# Kinds of work that as a rule use up a blank, fob or lock part.
USES_PARTS = frozenset(
    {
        KindOfWork.DUPLICATE_KEY,
        KindOfWork.ALL_KEYS_LOST,
        KindOfWork.PROGRAMMING,
        KindOfWork.IGNITION_LOCK,
        KindOfWork.DOOR_LOCK,
        KindOfWork.REKEY,
    }
)

# Kinds of work by which a key comes into being; the record rules that come with the program name the same.
MAKES_KEYS = frozenset(
    {
        KindOfWork.DUPLICATE_KEY,
        KindOfWork.ALL_KEYS_LOST,
        KindOfWork.PROGRAMMING,
        KindOfWork.BROKEN_KEY,
        KindOfWork.IGNITION_LOCK,
    }
)

# Kinds of work that are done on vehicles only, whether or not the call named one.
CAR_WORK = frozenset({KindOfWork.ALL_KEYS_LOST, KindOfWork.PROGRAMMING, KindOfWork.IGNITION_LOCK})
