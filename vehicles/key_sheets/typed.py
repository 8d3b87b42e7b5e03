"""From what was typed to a key system of the core, and back.

`typed` maps the names of the form's fields to text. Lengths are in the unit named by `unit`; they reach the core in mm,
exactly. Whatever is impossible is refused with the field at fault.
"""

import re
from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal
from itertools import pairwise
from typing import Any, TypeVar

from vehicles.key_sheets import shown
from vehicles.key_sheets.notation import (
    read_depths,
    read_labels,
    read_length,
    read_lengths,
    read_locks,
    write_depths,
    write_locks,
)
from vehicles.key_sheets.series import FIELDS, fields_from_rules, rules_from_field
from vehicles.keys import (
    BadRule,
    ImpossibleSystem,
    KeysError,
    KeySystem,
    count_bittings,
    even_depths,
    even_positions,
    inch,
    mm,
    rule_from_json,
    to_inch,
)

Found = TypeVar("Found")
EVEN, LIST = "even", "list"
DEEPER, SHALLOWER = "deeper", "shallower"
MOST_CUTS = 32
_SIZES = {"flat": "flat_mm", "angle": "angle_deg", "blade_height": "blade_height_mm", "blade_length": "blade_length_mm"}
_FIELD_OF = {
    "positions_mm": "positions",
    "root_depths_mm": "depths",
    "second_edge_mm": "second_edge",
    **{core: field for field, core in _SIZES.items()},
}


def build_system(typed: Mapping[str, Any]) -> KeySystem:
    """The key system. Raises ImpossibleSystem whose `field` is the name of the typed field at fault."""
    text = {name: "" if value is None else str(value).strip() for name, value in typed.items()}
    unit = text.get("unit") or "mm"
    if not text.get("name"):
        raise ImpossibleSystem("name", "Give the key system a name.")
    plain = _plain_facts(typed, text, unit)
    try:
        system = KeySystem(**plain)
    except ImpossibleSystem as error:
        raise ImpossibleSystem(_field_at_fault(error.field, text), _in_unit(str(error), unit)) from None
    if system.cuts > MOST_CUTS:
        raise ImpossibleSystem("positions", f"{system.cuts} cuts are more than the {MOST_CUTS} that can be kept.")
    return _with_rules(plain, system, text)


def _plain_facts(typed: Mapping[str, Any], text: Mapping[str, str], unit: str) -> dict[str, Any]:
    macs = text.get("macs", "")
    if macs and not re.fullmatch(r"-?\d{1,4}", macs):
        raise ImpossibleSystem("macs", "MACS is a whole number; leave it empty when there is no limit.")
    second = _said("second_edge", read_lengths, text.get("second_edge", ""))
    return {
        "name": text["name"],
        "unit": unit,
        "stop": text.get("stop") or "shoulder",
        "layout": text.get("layout") or "one edge",
        "reads": text.get("reads") or None,
        "positions_mm": [_mm(unit, value) for value in _positions(text)],
        "second_edge_mm": [_mm(unit, value) for value in second] or None,
        "root_depths_mm": {label: _mm(unit, root) for label, root in _depths(text).items()},
        "macs": int(macs) if macs else None,
        "locks": _said("locks", read_locks, text.get("locks", "")),
        "can_recut": str(typed.get("can_recut", True)).lower() not in ("false", "no", "0", ""),
        **{core: _size(field, text.get(field, ""), unit) for field, core in _SIZES.items()},
    }


def _positions(text: Mapping[str, str]) -> Sequence[str | Decimal]:
    if text.get("position_kind", LIST) != EVEN:
        return _said("positions", read_lengths, text.get("positions", ""))
    first = _said("first_position", _needed, text.get("first_position", ""))
    spacing = _said("spacing", _needed, text.get("spacing", ""))
    if mm(spacing) <= 0:
        raise ImpossibleSystem("spacing", "The spacing must be above 0.")
    cuts = text.get("cuts", "")
    if not re.fullmatch(r"\d{1,3}", cuts) or not 1 <= int(cuts) <= MOST_CUTS:
        raise ImpossibleSystem("cuts", f"Give the number of cuts, 1 to {MOST_CUTS}.")
    return even_positions(first, spacing, int(cuts))


def _depths(text: Mapping[str, str]) -> Mapping[str, str | Decimal]:
    if text.get("depth_kind", LIST) != EVEN:
        return _said("depths", read_depths, text.get("depths", ""))
    labels = _said("depth_labels", read_labels, text.get("depth_labels", ""))
    if not labels:
        raise ImpossibleSystem("depth_labels", "Give the labels of the depths, for example 1-6.")
    first = _said("first_root", _needed, text.get("first_root", ""))
    step = _said("depth_step", _needed, text.get("depth_step", ""))
    if mm(step) <= 0:
        raise ImpossibleSystem("depth_step", "The step must be above 0; say below which way the depths run.")
    rises = text.get("depths_run") == SHALLOWER
    return even_depths(labels, first, -mm(step) if rises else mm(step))


def _needed(value: str) -> str:
    if not value:
        raise KeysError("This is needed.")
    return read_length(value)


def _mm(unit: str, value: str | Decimal) -> Decimal:
    return inch(value) if unit == "in" else mm(value)


def _size(field: str, value: str, unit: str) -> Decimal | None:
    if not value:
        return None
    number = _said(field, read_length, value)
    return mm(number) if field == "angle" else _mm(unit, number)


def _said(field: str, read: Callable[[str], Found], value: str) -> Found:
    try:
        return read(value)
    except KeysError as error:
        raise ImpossibleSystem(field, str(error)) from None


def _field_at_fault(core: str, text: Mapping[str, str]) -> str:
    field = _FIELD_OF.get(core, core)
    if field == "positions" and text.get("position_kind") == EVEN:
        return "first_position"
    if field == "depths" and text.get("depth_kind") == EVEN:
        return "first_root"
    return field


def _in_unit(words: str, unit: str) -> str:
    """The core speaks of mm; somebody who typed inches is answered in inches."""
    if unit != "in":
        return words
    return re.sub(r"(-?\d+(?:\.\d+)?) mm", lambda found: f"{to_inch(found[1]):f} in", words)


def _with_rules(plain: dict[str, Any], system: KeySystem, text: Mapping[str, str]) -> KeySystem:
    rules = []
    for field in dict.fromkeys(FIELDS.values()):
        for data in _said(field, lambda value, field=field: rules_from_field(field, value), text.get(field, "")):  # type: ignore[misc]
            try:
                rule = rule_from_json(data)
                rule.check(system.depths, system.spots)
            except BadRule as error:
                words = (
                    str(error)
                    .replace(f"Rule {data['rule']} names", "This rule names")
                    .replace(f"Rule {data['rule']}: ", "")
                )
                raise ImpossibleSystem(field, words[0].upper() + words[1:]) from None
            rules.append(rule)
    whole = KeySystem(**plain, rules=rules)
    if rules and not count_bittings(whole):
        raise ImpossibleSystem(FIELDS[rules[0].name], "MACS and the rules together allow no key at all.")
    return whole


def typed_from(system: KeySystem) -> dict[str, Any]:
    """What would have to be typed for this system: even spacing and even steps where they are even."""
    unit = system.unit
    return {
        "name": system.name,
        "unit": unit,
        "stop": str(system.stop),
        "layout": str(system.layout),
        "reads": str(system.reads),
        "macs": "" if system.macs is None else str(system.macs),
        "can_recut": system.can_recut,
        "locks": write_locks(system.locks, "\n"),
        "second_edge": " ".join(shown.second_edge_of(system)),
        **{
            field: shown.shown_length(getattr(system, core), "mm" if field == "angle" else unit)
            for field, core in _SIZES.items()
        },
        **_typed_positions(system),
        **_typed_depths(system),
        **fields_from_rules(system.rules),
    }


def _even_step(figures: Sequence[str]) -> Decimal | None:
    steps = {Decimal(two) - Decimal(one) for one, two in pairwise(figures)}
    return steps.pop() if len(steps) == 1 else None


def _typed_positions(system: KeySystem) -> dict[str, str]:
    figures = shown.positions_of(system)
    step = _even_step(figures)
    listed = {"positions": " ".join(figures), "cuts": str(len(figures))}
    if step is None:
        return {"position_kind": LIST, **listed}
    return {"position_kind": EVEN, **listed, "first_position": figures[0], "spacing": f"{step:f}"}


def _typed_depths(system: KeySystem) -> dict[str, str]:
    depths = shown.depths_of(system)
    step = _even_step(list(depths.values()))
    listed = {"depths": write_depths(depths, "\n"), "depth_labels": " ".join(depths)}
    if step is None:
        return {"depth_kind": LIST, **listed}
    run = DEEPER if step < 0 else SHALLOWER
    first = next(iter(depths.values()))
    return {"depth_kind": EVEN, **listed, "first_root": first, "depth_step": f"{abs(step):f}", "depths_run": run}
