"""Families and procedures out of the open file, taken in together or not at all; nothing is overwritten unasked."""

from collections.abc import Collection, Iterable, Mapping
from typing import Any

from django.db import connection, transaction

from shop.errors import Refused
from shop.staff.models import Person
from shop.stock.models import Item
from vehicles.actions.families import add_family, add_variant, change_family, change_variant
from vehicles.actions.procedures import add_procedure, propose_version
from vehicles.exchange import FACTS, SAME, FamilyPlan, content_from, plan_exchange, without_unknown
from vehicles.models import KeySystemSheet, Procedure, ProcedureVersion, Variant, VehicleFamily
from vehicles.reads_exchange import what_is_here
from vehicles.reads_know import content_of
from vehicles.states import VersionState

# One import at a time: what was shown beside the shop's own must still be so when it is written.
_LOCK = 0x66616D69


@transaction.atomic
def take_in_families(
    families: Iterable[Mapping[str, Any]], *, actor: Person, replace: Collection[str], shown: str, source: str
) -> list[FamilyPlan]:
    """Takes in what a file brings; returns what was taken in.

    New families come in whole. Facts and variants of a family the shop has are replaced only when its uid is in
    `replace`. Procedures always come in as proposals, for somebody to accept. `shown` is the fingerprint of what the
    person saw (`reads_exchange.what_is_here().fingerprint`); raises Refused when the shop's own has changed since, and
    for a file that no longer fits.
    """
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [_LOCK])
    seen = what_is_here()
    if seen.fingerprint != shown:
        raise Refused("The shop's own families have changed since. Look at the two again.", field="file")
    by_uid = {family["uid"]: family for family in families}
    taken = []
    for plan in plan_exchange(by_uid.values(), seen.here):
        if not plan.brings_something:
            continue
        _take_in(without_unknown(by_uid[plan.uid], seen.here), plan, actor, plan.uid in replace, source)
        taken.append(plan)
    return taken


def _take_in(told: Mapping[str, Any], plan: FamilyPlan, actor: Person, may_replace: bool, source: str) -> None:
    family = VehicleFamily.objects.filter(uid=told["uid"]).first()
    if family is None:
        family = add_family(actor=actor, uid=told["uid"], items=_items(told), **_facts(told))
    elif may_replace:
        family = change_family(family, actor=actor, items=_items(told), **_facts(told))
    variants = {str(each.uid): each for each in family.variants.all()}
    for variant in told["variants"]:
        held = variants.get(variant["uid"])
        if held is None:
            made = add_variant(family, actor=actor, name=variant["name"], sign=variant["sign"], uid=variant["uid"])
            variants[variant["uid"]] = made
        elif may_replace:
            change_variant(held, actor=actor, name=variant["name"], sign=variant["sign"])
    states = {each.uid: each.state for each in plan.procedures}
    for procedure in told["procedures"]:
        if states[procedure["uid"]] != SAME:
            _propose(family, procedure, variants, actor, source)


def _propose(
    family: VehicleFamily, told: Mapping[str, Any], variants: Mapping[str, Variant], actor: Person, source: str
) -> None:
    variant = variants[told["variant"]] if told.get("variant") else None
    content = content_from(told)
    held = Procedure.objects.filter(family=family, variant=variant, kind_of_work=told["kind_of_work"]).first()
    if held is None:
        is_free = not Procedure.objects.filter(uid=told["uid"]).exists()
        uid = told["uid"] if is_free else None
        add_procedure(family, actor=actor, kind_of_work=told["kind_of_work"], variant=variant, content=content, uid=uid)
        return
    if any(content_of(each) == content for each in held.versions.proposed().with_steps()):
        return
    base: ProcedureVersion | None = held.versions.filter(state=VersionState.ACCEPTED).first()
    propose_version(held, actor=actor, content=content, based_on=base, change_words=f"From {source}"[:300])


def _facts(told: Mapping[str, Any]) -> dict[str, Any]:
    facts = {name: told[name] for name in FACTS}
    facts["key_system"] = KeySystemSheet.objects.filter(name=told["key_system"]).first() if told["key_system"] else None
    return facts


def _items(told: Mapping[str, Any]) -> list[tuple[Item, str]]:
    items = Item.objects.in_bulk([each["number"] for each in told["items"]], field_name="number")
    return [(items[each["number"]], each["role"]) for each in told["items"]]
