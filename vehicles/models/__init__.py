"""Vehicles, key systems, code books, families and procedures."""

from vehicles.models.code_book import CodeBook, CodeBookImport, CodeBookLook, CodeRow
from vehicles.models.family import FamilyItem, Variant, VehicleFamily
from vehicles.models.key_system import KeySystemSheet
from vehicles.models.long_work import LongWork, TrialPlanRequest
from vehicles.models.procedure import Procedure, ProcedureStep, ProcedureVersion
from vehicles.models.vehicle import Vehicle

__all__ = [
    "CodeBook",
    "CodeBookImport",
    "CodeBookLook",
    "CodeRow",
    "FamilyItem",
    "KeySystemSheet",
    "LongWork",
    "Procedure",
    "ProcedureStep",
    "ProcedureVersion",
    "TrialPlanRequest",
    "Variant",
    "Vehicle",
    "VehicleFamily",
]
