"""Every write on vehicles, key systems and code books."""

from vehicles.actions.key_systems import (
    add_key_system,
    change_key_system,
    copy_key_system,
    import_key_systems,
    switch_key_system,
)
from vehicles.actions.vehicle import add_vehicle, change_vehicle

__all__ = [
    "add_key_system",
    "add_vehicle",
    "change_key_system",
    "change_vehicle",
    "copy_key_system",
    "import_key_systems",
    "switch_key_system",
]
