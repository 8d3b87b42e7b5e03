"""The decision for every model field: how long it is kept, and whether it is guarded."""

import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any

from django.apps import apps
from django.conf import settings
from django.db import models

from shop.guarded.fields import GuardedField, GuardedStorage

FILE = "retention.toml"


class Keep(StrEnum):
    """Until when."""

    FOR_EVER = "for_ever"
    RECORD_RULE = "record_rule"
    MONEY_RULE = "money_rule"
    WITH_PARENT = "with_parent"
    UNTIL_ERASED = "until_erased"
    DAYS = "days"


KEEP_WORDS = {
    Keep.FOR_EVER: "For ever",
    Keep.RECORD_RULE: "By the record rule",
    Keep.MONEY_RULE: "By the money rule",
    Keep.WITH_PARENT: "As long as what it belongs to",
    Keep.UNTIL_ERASED: "Until the customer is erased, or by the money rule",
    Keep.DAYS: "For some days",
}


class BadDecisions(ValueError):
    """A file of decisions that cannot be read, in words for a developer."""


@dataclass(frozen=True)
class Decision:
    """One group of fields of one model ("app.Model"). `why` says what the group is and, for days, how many."""

    model: str
    fields: frozenset[str]
    keep: Keep
    is_guarded: bool
    why: str

    @property
    def words(self) -> str:
        return KEEP_WORDS[self.keep]

    @property
    def listed(self) -> str:
        return ", ".join(name.replace("_", " ") for name in sorted(self.fields))


def read_decisions() -> list[Decision]:
    """Every decision of the program. Raises BadDecisions."""
    return [made for path, label in _files() for made in parse(path.read_text(), app=label, source=str(path))]


def parse(text: str, *, app: str, source: str) -> Iterator[Decision]:
    """The decisions of one file. A model of another package is named with its app: ["sessions.Session"]."""
    try:
        found = tomllib.loads(text)
        for name, groups in found.items():
            label = name if "." in name else f"{app}.{name}"
            for group in groups:
                yield _decision(label, group)
    except (tomllib.TOMLDecodeError, KeyError, TypeError, ValueError) as error:
        raise BadDecisions(f"{source}: {error!r}") from error


def undecided(decisions: Iterable[Decision], all_models: Iterable[type[models.Model]]) -> list[str]:
    """What does not hold, each line with what to write where; empty when every field is decided once."""
    kept: dict[str, list[Decision]] = {}
    for decision in decisions:
        kept.setdefault(decision.model, []).append(decision)
    found: list[str] = []
    for model in all_models:
        found += _faults(model, kept.pop(model._meta.label, []))
    return found + [f"{label} is decided, but there is no such model: take it out of {FILE}." for label in kept]


def own_fields(model: type[models.Model]) -> list[Any]:
    """The fields that need a decision: all columns but the row's own number."""
    return [field for field in model._meta.local_fields if not (field.primary_key and field.name == "id")]


def _files() -> Iterator[tuple[Path, str]]:
    for config in apps.get_app_configs():
        path = Path(config.path) / FILE
        if path.is_relative_to(settings.ROOT) and path.exists():
            yield path, config.label


def _decision(label: str, group: Mapping[str, Any]) -> Decision:
    unknown = set(group) - {"fields", "keep", "guarded", "why"}
    if unknown:
        raise ValueError(f"{label}: unknown {', '.join(sorted(unknown))}")
    return Decision(label, frozenset(group["fields"]), Keep(group["keep"]), group.get("guarded", False), group["why"])


def _faults(model: type[models.Model], decisions: list[Decision]) -> list[str]:
    label = model._meta.label
    fields = {field.name: field for field in own_fields(model)}
    decided = [name for decision in decisions for name in decision.fields]
    found = []
    if lacking := [name for name in fields if name not in decided]:
        found.append(_advice(model, lacking))
    for name in sorted(set(decided)):
        if name not in fields:
            found.append(f"{label}.{name} is decided, but there is no such field: take it out of {FILE}.")
        elif decided.count(name) > 1:
            found.append(f"{label}.{name} is decided more than once in {FILE}.")
    for decision in decisions:
        for name in sorted(decision.fields & fields.keys()):
            if decision.is_guarded != is_guarded(fields[name]):
                should = "belongs" if is_guarded(fields[name]) else "does not belong"
                found.append(f"{label}.{name} {should} in a group with guarded = true in {FILE}.")
    return found


def is_guarded(field: Any) -> bool:
    return isinstance(field, GuardedField) or isinstance(getattr(field, "storage", None), GuardedStorage)


def _advice(model: type[models.Model], lacking: list[str]) -> str:
    config = apps.get_app_config(model._meta.app_label)
    path = Path(config.path)
    is_ours = path.is_relative_to(settings.ROOT) and (path / "__init__.py").exists() and ".venv" not in path.parts
    name = model.__name__ if is_ours else f'"{model._meta.label}"'
    file = (path.relative_to(settings.ROOT) if is_ours else Path("shop")) / FILE
    listed = ", ".join(f'"{each}"' for each in lacking)
    ways = ", ".join(Keep)
    return (
        f"{model._meta.label}: nobody has decided how long to keep {', '.join(lacking)}. Add to {file}: "
        f'[[{name}]] fields = [{listed}], keep = "..." (one of {ways}), why = "...", '
        "and guarded = true for sealed fields."
    )
