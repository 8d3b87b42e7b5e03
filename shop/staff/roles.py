"""The roles of the shop."""

from enum import StrEnum


class Role(StrEnum):
    OWNER = "owner"
    OFFICE = "office"
    TECHNICIAN = "technician"
