"""What is told of a customer's vehicles, and how they are made anonymous."""

from datetime import date
from typing import Any

from shop.customers.models import Customer
from shop.keeping.rooms import Room, Spared
from vehicles.actions.vehicle import erase_vehicle
from vehicles.models import Vehicle


def _data(customer: Customer) -> dict[str, Any]:
    facts = ("plate", "vin", "year", "make", "model", "colour", "notes", "created_at")
    return {"vehicles": list(Vehicle.objects.filter(customer=customer).order_by("pk").values(*facts))}


def _erase(customer: Customer, on: date, spared: Spared) -> list[str]:
    found = Vehicle.objects.filter(customer=customer).exclude(pk__in=spared.vehicles)
    gone = sum(erase_vehicle(vehicle) for vehicle in found)
    return [f"Plate, VIN and owner of {gone} {'vehicle' if gone == 1 else 'vehicles'}"] if gone else []


ROOM = Room(data=_data, erase=_erase)
