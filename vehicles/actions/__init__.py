"""Every write on vehicles, key systems, code books, families and procedures."""

from vehicles.actions.families import (
    add_family,
    add_variant,
    change_family,
    change_variant,
    switch_family,
    switch_variant,
)
from vehicles.actions.key_systems import (
    add_key_system,
    change_key_system,
    copy_key_system,
    import_key_systems,
    switch_key_system,
)
from vehicles.actions.procedures import accept_version, add_procedure, propose_version, reject_version
from vehicles.actions.vehicle import add_vehicle, change_vehicle, find_family, set_family

__all__ = [
    "accept_version",
    "add_family",
    "add_key_system",
    "add_procedure",
    "add_variant",
    "add_vehicle",
    "change_family",
    "change_key_system",
    "change_variant",
    "change_vehicle",
    "copy_key_system",
    "find_family",
    "import_key_systems",
    "propose_version",
    "reject_version",
    "set_family",
    "switch_family",
    "switch_key_system",
    "switch_variant",
]
