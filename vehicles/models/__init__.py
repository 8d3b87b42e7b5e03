"""Vehicles, key systems and code books."""

from vehicles.models.vehicle import Vehicle

__all__ = ["Vehicle"]
