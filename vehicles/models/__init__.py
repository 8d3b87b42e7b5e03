"""Vehicles, key systems and code books."""

from vehicles.models.code_book import CodeBook, CodeBookImport, CodeBookLook, CodeRow
from vehicles.models.key_system import KeySystemSheet
from vehicles.models.long_work import LongWork, TrialPlanRequest
from vehicles.models.vehicle import Vehicle

__all__ = [
    "CodeBook",
    "CodeBookImport",
    "CodeBookLook",
    "CodeRow",
    "KeySystemSheet",
    "LongWork",
    "TrialPlanRequest",
    "Vehicle",
]
