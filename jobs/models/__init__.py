"""Calls, jobs, visits and what happened on them."""

from jobs.models.call import CallDraft
from jobs.models.job import Job, Payer
from jobs.models.record import EventKind, JobEvent, PartUse, Photo
from jobs.models.visit import Visit

__all__ = ["CallDraft", "EventKind", "Job", "JobEvent", "PartUse", "Payer", "Photo", "Visit"]
