"""What the shop has, as the open file would write it."""

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from django.db.models import Prefetch

from shop.stock.models import Item
from vehicles.exchange import FACTS, Here, procedure_facts
from vehicles.models import KeySystemSheet, Procedure, ProcedureVersion, VehicleFamily
from vehicles.reads_know import content_of


@dataclass(frozen=True)
class WhatIsHere:
    """The shop's families as a file, and a fingerprint that changes when they do."""

    here: Here

    @cached_property
    def fingerprint(self) -> str:
        told = [list(self.here.families), sorted(self.here.item_numbers), sorted(self.here.key_systems)]
        return hashlib.sha256(json.dumps(told, sort_keys=True).encode()).hexdigest()


def what_is_here() -> WhatIsHere:
    return WhatIsHere(
        Here(
            families=tuple(family_facts(VehicleFamily.objects.order_by("pk"))),
            item_numbers=frozenset(Item.objects.values_list("number", flat=True)),
            key_systems=frozenset(KeySystemSheet.objects.values_list("name", flat=True)),
        )
    )


def family_facts(families: Any) -> Iterable[dict[str, Any]]:
    """Families as the file writes them: with variants, and procedures as they are in force."""
    in_force = ProcedureVersion.objects.accepted().prefetch_related("steps")
    procedures = Procedure.objects.order_by("pk").select_related("variant")
    loaded = families.select_related("key_system").prefetch_related(
        "family_items__item",
        "variants",
        Prefetch("procedures", procedures.prefetch_related(Prefetch("versions", in_force, to_attr="in_force"))),
    )
    return [_facts(family) for family in loaded]


def _facts(family: VehicleFamily) -> dict[str, Any]:
    facts = {name: getattr(family, name) for name in FACTS}
    facts["key_system"] = family.key_system.name if family.key_system else ""
    items = [
        {"number": line.item.number, "name": line.item.name, "role": str(line.role)}
        for line in family.family_items.all()
    ]
    variants = [{"uid": str(each.uid), "name": each.name, "sign": each.sign} for each in family.variants.all()]
    return {
        "uid": str(family.uid),
        **facts,
        "items": items,
        "variants": variants,
        "procedures": [_procedure(each) for each in family.procedures.all() if each.in_force],  # type: ignore[attr-defined]
    }


def _procedure(procedure: Any) -> dict[str, Any]:
    return {
        "uid": str(procedure.uid),
        "kind_of_work": procedure.kind_of_work,
        "variant": str(procedure.variant.uid) if procedure.variant else None,
        **procedure_facts(content_of(procedure.in_force[0])),
    }
