"""The open file in which shops share families and procedures: read, checked, and laid beside what the shop has.

The form is static/vehicles/families-1.schema.json. Imports no Django.
"""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

from jsonschema import Draft202012Validator

from vehicles.difference import Difference, difference
from vehicles.procedure_content import STEP_FIELDS, Content, StepContent, faults_of, plain

FORMAT, VERSION = "vehicle-families", 1
SCHEMA_FILE = Path(__file__).parent.parent / "static" / "vehicles" / "families-1.schema.json"
LARGEST_BYTES = 2_000_000
MOST_FAULTS = 20
NEW, SAME, DIFFERENT = "new", "same", "different"
_CLASH = "The shop has another family of this name. Rename one of the two."

# The plain facts of a family, with their words and what they are when the file leaves them out.
FACTS: dict[str, tuple[str, Any]] = {
    "make": ("Make", ""),
    "name": ("Family", ""),
    "model_names": ("Models", []),
    "year_from": ("From year", None),
    "year_until": ("Until year", None),
    "market": ("Market", ""),
    "vin_pattern": ("VIN begins", ""),
    "transponder": ("Transponder", ""),
    "has_remote": ("Remote", False),
    "key_system": ("Key system", ""),
    "key_capacity": ("Keys it learns", None),
    "code_place": ("Where a code may be found", ""),
    "access_steps": ("How to get to it", ""),
    "access_tools": ("Tools", ""),
    "access_caution": ("Caution", ""),
    "is_near_airbag": ("Airbag in the way", False),
    "notes": ("Notes", ""),
    "source": ("Source", ""),
}


class BadExchange(ValueError):
    """A file that cannot be taken in; `faults` are fit to show."""

    def __init__(self, *faults: str) -> None:
        super().__init__(" ".join(faults))
        self.faults = faults


@dataclass(frozen=True)
class FactBeside:
    """A fact that differs: what the shop has, and what the file says."""

    name: str
    ours: str
    theirs: str


@dataclass(frozen=True)
class ProcedurePlan:
    """A procedure of the file. A different one would come in as a proposal."""

    uid: str
    words: str
    state: str
    difference: Difference | None = None


@dataclass(frozen=True)
class FamilyPlan:
    """A family of the file beside the shop's. `clash`: another family of the shop has its name."""

    uid: str
    title: str
    state: str
    facts: tuple[FactBeside, ...] = ()
    variants: tuple[FactBeside, ...] = ()
    procedures: tuple[ProcedurePlan, ...] = ()
    notes: tuple[str, ...] = ()
    clash: str = ""

    @property
    def brings_something(self) -> bool:
        return not self.clash and (self.state != SAME or any(each.state != SAME for each in self.procedures))


@dataclass(frozen=True)
class Here:
    """What the shop has: its families as the file would write them, the names of its items and key systems."""

    families: Sequence[Mapping[str, Any]] = field(default_factory=tuple)
    item_numbers: frozenset[str] = frozenset()
    key_systems: frozenset[str] = frozenset()


@cache
def _validator() -> Draft202012Validator:
    return Draft202012Validator(json.loads(SCHEMA_FILE.read_text(encoding="utf-8")))


def write_exchange(families: Iterable[Mapping[str, Any]], *, shop: str, written_at: str) -> str:
    """The file as text."""
    told = {"format": FORMAT, "version": VERSION, "from": shop[:120], "written_at": written_at, "families": [*families]}
    return json.dumps(told, ensure_ascii=False, indent=2) + "\n"


def read_exchange(text: str | bytes) -> list[dict[str, Any]]:
    """The families of a file, every one of them sound. Raises BadExchange with all that is wrong."""
    if len(text) > LARGEST_BYTES:
        raise BadExchange("This file is larger than 2 MB. Export fewer families at once.")
    try:
        # Python reads NaN and Infinity, which JSON does not have.
        data = json.loads(text, parse_constant=_no_constant)
    except (ValueError, RecursionError):
        raise BadExchange("This is no JSON file.") from None
    _check_version(data)
    faults = [_words_of(error) for error in _validator().iter_errors(data)]
    if faults:
        raise BadExchange(*faults[:MOST_FAULTS])
    families: list[dict[str, Any]] = [_filled(family) for family in data["families"]]
    if faults := [fault for family in families for fault in _faults(family)] + _twice(families):
        raise BadExchange(*faults[:MOST_FAULTS])
    return families


def _no_constant(name: str) -> None:
    raise ValueError(name)


def _check_version(data: Any) -> None:
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise BadExchange("This file holds no vehicle families.")
    version = data.get("version")
    if isinstance(version, int) and not isinstance(version, bool) and version > VERSION:
        raise BadExchange(
            f"This file is of version {version}; this program reads up to version {VERSION}. "
            "Bring the program up to date, or ask for the file in the older form."
        )


def _words_of(error: Any) -> str:
    path = "".join(f"[{part}]" if isinstance(part, int) else f".{part}" for part in error.absolute_path)
    return f"{path.lstrip('.') or 'The file'}: {error.message[:200]}"


def _filled(family: dict[str, Any]) -> dict[str, Any]:
    """With everything that the file may leave out."""
    facts = {name: family.get(name, empty) for name, (_, empty) in FACTS.items()}
    lists = {name: family.get(name, []) for name in ("items", "variants", "procedures")}
    return {"uid": family["uid"], **facts, **lists}


def _faults(family: Mapping[str, Any]) -> list[str]:
    title = title_of(family)
    found = []
    if family["year_from"] > family["year_until"]:
        found.append(f"{title}: the last year lies before the first.")
    variants = {variant["uid"] for variant in family["variants"]}
    for procedure in family["procedures"]:
        if procedure.get("variant") not in {None, *variants}:
            found.append(f"{title}, {procedure['kind_of_work']}: its variant is not in the file.")
        found += [f"{title}, {procedure['kind_of_work']}: {fault}" for fault in faults_of(content_from(procedure))]
    return found


def _twice(families: Sequence[Mapping[str, Any]]) -> list[str]:
    """Families, variants and procedures that stand in the file more than once."""
    found = []
    seen: set[Any] = set()
    for family in families:
        keys = [family["uid"], (family["make"].casefold(), family["name"].casefold())]
        keys += [part["uid"] for part in (*family["variants"], *family["procedures"])]
        keys += [(family["uid"], variant["name"].casefold(), "variant") for variant in family["variants"]]
        keys += [(family["uid"], each["kind_of_work"], each.get("variant")) for each in family["procedures"]]
        if len(set(keys)) < len(keys) or seen.intersection(keys):
            found.append(f"{title_of(family)} stands in the file twice, or a part of it does.")
        seen.update(keys)
    return found


def title_of(family: Mapping[str, Any]) -> str:
    return f"{family['make']} {family['name']}"


def content_from(procedure: Mapping[str, Any]) -> Content:
    """What a procedure of the file says."""
    return Content(
        steps=tuple(_step_from(step) for step in procedure["steps"]),
        source=procedure["source"],
        proved_by=procedure.get("proved_by", ""),
        equipment=tuple(procedure.get("equipment", ())),
        low_volts=_decimal(procedure.get("low_volts")),
        high_volts=_decimal(procedure.get("high_volts")),
    )


def _step_from(step: Mapping[str, Any]) -> StepContent:
    figures = {name: _decimal(step.get(name)) for name in ("low", "high")}
    rest = {name: step[name] for name in STEP_FIELDS if name in step and name not in figures}
    return StepContent(**{**rest, **figures})


def _decimal(text: str | None) -> Decimal | None:
    return None if text is None else Decimal(text)


def procedure_facts(content: Content) -> dict[str, Any]:
    """A procedure's content as the file writes it; what is empty is left out."""
    told = {
        "source": content.source,
        "proved_by": content.proved_by,
        "equipment": list(content.equipment),
        "low_volts": plain(content.low_volts),
        "high_volts": plain(content.high_volts),
    }
    steps = []
    for step in content.steps:
        facts = {name: getattr(step, name) for name in STEP_FIELDS}
        facts |= {name: plain(facts[name]) for name in ("low", "high")}
        steps.append({name: value for name, value in facts.items() if value not in ("", None, False)})
    return {**{name: value for name, value in told.items() if value}, "steps": steps}


def plan_exchange(families: Iterable[Mapping[str, Any]], here: Here) -> list[FamilyPlan]:
    """Each family of the file beside what the shop has."""
    ours = {family["uid"]: family for family in here.families}
    names = {(family["make"].casefold(), family["name"].casefold()): family["uid"] for family in here.families}
    return [_plan(family, ours.get(family["uid"]), names, here) for family in families]


def _plan(
    theirs: Mapping[str, Any], ours: Mapping[str, Any] | None, names: Mapping[Any, str], here: Here
) -> FamilyPlan:
    holder = names.get((theirs["make"].casefold(), theirs["name"].casefold()))
    clash = "" if holder in (None, theirs["uid"]) else _CLASH
    notes = _left_out(theirs, here)
    theirs = without_unknown(theirs, here)
    if ours is None:
        procedures = tuple(ProcedurePlan(each["uid"], _work(each, theirs), NEW) for each in theirs["procedures"])
        return FamilyPlan(theirs["uid"], title_of(theirs), NEW, procedures=procedures, notes=notes, clash=clash)
    facts, variants = _facts_beside(ours, theirs), _variants_beside(ours, theirs)
    return FamilyPlan(
        theirs["uid"],
        title_of(theirs),
        DIFFERENT if facts or variants else SAME,
        facts,
        variants,
        tuple(_procedure_plan(each, ours, theirs) for each in theirs["procedures"]),
        notes,
        clash,
    )


def without_unknown(family: Mapping[str, Any], here: Here) -> dict[str, Any]:
    """The family without items and a key system that the shop does not have."""
    items = [item for item in family["items"] if item["number"] in here.item_numbers]
    key_system = family["key_system"] if family["key_system"] in here.key_systems else ""
    return {**family, "items": items, "key_system": key_system}


def _left_out(family: Mapping[str, Any], here: Here) -> tuple[str, ...]:
    words = [
        f"Item {item['number']} {item.get('name', '')}".strip() + " is not among the shop's items: left out."
        for item in family["items"]
        if item["number"] not in here.item_numbers
    ]
    if family["key_system"] and family["key_system"] not in here.key_systems:
        words.append(f"The shop has no key system called {family['key_system']}: left out.")
    return tuple(words)


def _facts_beside(ours: Mapping[str, Any], theirs: Mapping[str, Any]) -> tuple[FactBeside, ...]:
    pairs = [(words, _told(ours[name]), _told(theirs[name])) for name, (words, _) in FACTS.items()]
    pairs.append(("Items", _items_told(ours), _items_told(theirs)))
    return tuple(FactBeside(*pair) for pair in pairs if pair[1] != pair[2])


def _told(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return ", ".join(value) if isinstance(value, list) else "" if value is None else str(value)


def _items_told(family: Mapping[str, Any]) -> str:
    return ", ".join(sorted(f"{item['number']} ({item['role']})" for item in family["items"]))


def _variants_beside(ours: Mapping[str, Any], theirs: Mapping[str, Any]) -> tuple[FactBeside, ...]:
    held = {variant["uid"]: f"{variant['name']}: {variant['sign']}" for variant in ours["variants"]}
    found = []
    for variant in theirs["variants"]:
        told = f"{variant['name']}: {variant['sign']}"
        if held.get(variant["uid"]) != told:
            found.append(FactBeside("Variant", held.get(variant["uid"], ""), told))
    return tuple(found)


def _procedure_plan(theirs: Mapping[str, Any], ours: Mapping[str, Any], family: Mapping[str, Any]) -> ProcedurePlan:
    held = next((each for each in ours["procedures"] if is_same_work(each, theirs)), None)
    words = _work(theirs, family)
    if held is None:
        return ProcedurePlan(theirs["uid"], words, NEW)
    seen = difference(content_from(held), content_from(theirs))
    return ProcedurePlan(theirs["uid"], words, SAME if seen.is_none else DIFFERENT, None if seen.is_none else seen)


def is_same_work(one: Mapping[str, Any], other: Mapping[str, Any]) -> bool:
    """Whether two procedures of one family are for the same work, whatever they are called in the files."""
    return bool(one["kind_of_work"] == other["kind_of_work"] and one.get("variant") == other.get("variant"))


def _work(procedure: Mapping[str, Any], family: Mapping[str, Any]) -> str:
    names = {variant["uid"]: variant["name"] for variant in family["variants"]}
    words = procedure["kind_of_work"].replace("_", " ").capitalize()
    variant = procedure.get("variant")
    return f"{words}, {names[variant]}" if variant else words
