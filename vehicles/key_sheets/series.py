"""The rules of a series as fields of a form, and as one line of text.

In a line, each rule is its name and its parameters, rules parted by semicolons:
`even_sum; max_equal_run 3; max_of_depth 1 2; forbidden_at 3 1 5; forbidden_neighbours 1-6 2-6`.
"""

import re
from collections.abc import Iterable, Mapping
from typing import Any

from vehicles.key_sheets.notation import BadNotation, read_labels
from vehicles.keys import Rule

# The field of the form that holds each rule, and the rule in plain words.
FIELDS: dict[str, str] = {
    "even_sum": "rule_parity",
    "odd_sum": "rule_parity",
    "sum_between": "rule_sum",
    "max_equal_run": "rule_equal_run",
    "max_of_depth": "rule_max_of_depth",
    "forbidden_first": "rule_first",
    "forbidden_last": "rule_last",
    "forbidden_at": "rule_at",
    "forbidden_neighbours": "rule_neighbours",
    "min_different": "rule_different",
    "min_spread": "rule_spread",
}
_ONE_NUMBER = {"rule_equal_run": "max_equal_run", "rule_different": "min_different", "rule_spread": "min_spread"}
_ONE_LIST = {"rule_first": "forbidden_first", "rule_last": "forbidden_last"}


def rules_from_field(field: str, text: str) -> list[dict[str, Any]]:
    """The rules that one field asks for; none when it is empty. Raises BadNotation."""
    text = text.strip()
    if not text:
        return []
    if field == "rule_parity":
        return [{"rule": f"{text}_sum"}]
    if field == "rule_sum":
        low, high = _two_numbers(text)
        return [{"rule": "sum_between", "low": low, "high": high}]
    if field == "rule_max_of_depth":
        entries = _entries(text, "1: 2 (depth 1 at most twice)")
        return [{"rule": "max_of_depth", "label": label, "n": _number(rest)} for label, rest in entries]
    if field == "rule_at":
        entries = _entries(text, "3: 1 5 (cut 3 is never 1 or 5)")
        return [
            {"rule": "forbidden_at", "position": _number(place), "labels": read_labels(rest)} for place, rest in entries
        ]
    if field == "rule_neighbours":
        return [{"rule": "forbidden_neighbours", "pairs": _pairs(text)}]
    if field in _ONE_LIST:
        return [{"rule": _ONE_LIST[field], "labels": read_labels(text)}]
    return [{"rule": _ONE_NUMBER[field], "n": _number(text)}]


def fields_from_rules(rules: Iterable[Rule]) -> dict[str, str]:
    """The fields that give these rules again."""
    fields = dict.fromkeys(FIELDS.values(), "")
    for rule in rules:
        data, field = rule.to_json(), FIELDS[rule.name]
        written = _field_text(rule.name, data)
        fields[field] = f"{fields[field]}; {written}" if fields[field] else written
    return fields


def _field_text(name: str, data: Mapping[str, Any]) -> str:
    if name in ("even_sum", "odd_sum"):
        return name.removesuffix("_sum")
    if name == "sum_between":
        return f"{data['low']} to {data['high']}"
    if name == "max_of_depth":
        return f"{data['label']}: {data['n']}"
    if name == "forbidden_at":
        return f"{data['position']}: {' '.join(data['labels'])}"
    if name == "forbidden_neighbours":
        return " ".join("-".join(pair) for pair in data["pairs"])
    return " ".join(data["labels"]) if "labels" in data else str(data["n"])


def rules_from_line(line: str) -> list[dict[str, Any]]:
    """The rules of one line. Raises BadNotation."""
    return [_from_words(part.split()) for part in line.split(";") if part.strip()]


def _from_words(words: list[str]) -> dict[str, Any]:
    name, rest = words[0], words[1:]
    if name not in FIELDS:
        raise BadNotation(f"There is no rule {name!r}. Rules: {', '.join(FIELDS)}.")
    counts = {
        "even_sum": 0,
        "odd_sum": 0,
        "sum_between": 2,
        "max_of_depth": 2,
        **dict.fromkeys(_ONE_NUMBER.values(), 1),
    }
    if len(rest) != counts.get(name, len(rest)) or (name not in ("even_sum", "odd_sum") and not rest):
        raise BadNotation(f"Rule {name} is written with other parameters.")
    if name == "sum_between":
        return {"rule": name, "low": _number(rest[0]), "high": _number(rest[1])}
    if name == "max_of_depth":
        return {"rule": name, "label": rest[0], "n": _number(rest[1])}
    if name == "forbidden_at":
        return {"rule": name, "position": _number(rest[0]), "labels": rest[1:]}
    if name == "forbidden_neighbours":
        return {"rule": name, "pairs": _pairs(" ".join(rest))}
    if name in _ONE_LIST.values():
        return {"rule": name, "labels": rest}
    return {"rule": name, "n": _number(rest[0])} if rest else {"rule": name}


def line_from_rules(rules: Iterable[Rule]) -> str:
    """One line that gives these rules again."""
    parts = []
    for rule in rules:
        data = rule.to_json()
        if rule.name == "forbidden_neighbours":
            words = ["-".join(pair) for pair in data["pairs"]]
        elif rule.name == "forbidden_at":
            words = [str(data["position"]), *data["labels"]]
        elif rule.name == "max_of_depth":
            words = [data["label"], str(data["n"])]
        else:
            values = [value for key, value in data.items() if key != "rule"]
            words = [str(word) for value in values for word in (value if isinstance(value, list) else [value])]
        parts.append(" ".join([rule.name, *words]))
    return "; ".join(parts)


def rule_words(rule: Rule) -> str:
    """A rule as a sentence."""
    data = rule.to_json()
    labels = " or ".join(data.get("labels", ()))
    pairs = ", ".join(" and ".join(pair) for pair in data.get("pairs", ()))
    return {
        "even_sum": "The depths add up to an even number.",
        "odd_sum": "The depths add up to an odd number.",
        "sum_between": f"The depths add up to {data.get('low')} at least and {data.get('high')} at most.",
        "max_equal_run": f"At most {data.get('n')} equal depths in a row.",
        "max_of_depth": f"Depth {data.get('label')} at most {data.get('n')} times.",
        "forbidden_first": f"The first cut is never {labels}.",
        "forbidden_last": f"The last cut is never {labels}.",
        "forbidden_at": f"Cut {data.get('position')} is never {labels}.",
        "forbidden_neighbours": f"Never side by side: {pairs}.",
        "min_different": f"At least {data.get('n')} different depths.",
        "min_spread": f"Highest and lowest depth at least {data.get('n')} apart.",
    }[rule.name]


def _entries(text: str, example: str) -> list[tuple[str, str]]:
    found = []
    for part in filter(None, (part.strip() for part in re.split(r"[\n;]", text))):
        left, colon, right = part.partition(":")
        if not colon or not left.strip() or not right.strip():
            raise BadNotation(f"Write for example {example}; not {part!r}.")
        found.append((left.strip(), right.strip()))
    return found


def _pairs(text: str) -> list[list[str]]:
    pairs = [part.split("-") for part in re.split(r"[\s,;]+", text.strip()) if part]
    if any(len(pair) != 2 or not all(pair) for pair in pairs):
        raise BadNotation("Write pairs of depths with a hyphen: 1-6 2-6.")
    return pairs


def _number(text: str) -> int:
    if not re.fullmatch(r"\d{1,4}", text.strip()):
        raise BadNotation(f"{text!r} must be a whole number.")
    return int(text)


def _two_numbers(text: str) -> tuple[int, int]:
    found = re.fullmatch(r"(\d{1,4})\s*(?:-|–|to)\s*(\d{1,4})", text)
    if not found:
        raise BadNotation("Write the lowest and the highest sum: 12 to 30.")
    return int(found[1]), int(found[2])
