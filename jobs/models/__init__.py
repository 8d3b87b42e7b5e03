"""Calls, jobs, visits and what happened on them; who may have the key; openings of guarded data."""

from jobs.models.authority import (
    AuthorityCheck,
    AuthorityPhoto,
    DocumentKind,
    Opening,
    Outcome,
    RecordRule,
    RuleChoice,
)
from jobs.models.call import CallDraft
from jobs.models.estimate import TimeEstimate, TimeLevel
from jobs.models.job import Job, Payer
from jobs.models.keeping import (
    DataExport,
    Erasure,
    Hold,
    HoldLift,
    InspectionRequest,
    KeepingRun,
    KeepingTimes,
)
from jobs.models.keywork import KeyPlan, KeyStage, KeyWay, KeyWork
from jobs.models.record import EventKind, JobEvent, PartUse, Photo
from jobs.models.running import Light, ProcedureRun, RunOutcome, StepDone
from jobs.models.visit import Visit

__all__ = [
    "AuthorityCheck",
    "AuthorityPhoto",
    "CallDraft",
    "DataExport",
    "DocumentKind",
    "Erasure",
    "EventKind",
    "Hold",
    "HoldLift",
    "InspectionRequest",
    "Job",
    "JobEvent",
    "KeepingRun",
    "KeepingTimes",
    "KeyPlan",
    "KeyStage",
    "KeyWay",
    "KeyWork",
    "Light",
    "Opening",
    "Outcome",
    "PartUse",
    "Payer",
    "Photo",
    "ProcedureRun",
    "RecordRule",
    "RuleChoice",
    "RunOutcome",
    "StepDone",
    "TimeEstimate",
    "TimeLevel",
    "Visit",
]
