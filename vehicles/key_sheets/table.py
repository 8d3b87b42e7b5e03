"""Key systems as rows of a CSV file, one system in a row; what is written is read back to equal systems."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from vehicles.csv_text import BadFile, CsvText, cell, read_csv, unguarded, write_csv
from vehicles.key_sheets import shown
from vehicles.key_sheets.notation import write_depths, write_locks
from vehicles.key_sheets.series import FIELDS, line_from_rules, rules_from_line
from vehicles.key_sheets.typed import build_system
from vehicles.keys import BadRule, ImpossibleSystem, KeysError, KeySystem, rule_from_json

# Each column with what it holds, as told on the page.
COLUMNS: dict[str, str] = {
    "name": "A name that no other key system has.",
    "unit": "mm or in: the unit of every length in the row.",
    "layout": "one edge, two mirrored edges, two independent edges, external track or internal track.",
    "stop": "shoulder or tip: what the cuts are measured from.",
    "reads": "bow to tip or tip to bow. Empty: away from the stop.",
    "positions": "Distance of each cut from the stop, parted by spaces: 3.15 5.65 8.15.",
    "second edge": "Positions on the second of two independent edges. Empty: as on the first.",
    "depths": "Each label with its root depth: 1=8.00 2=7.50.",
    "macs": "Largest step between neighbours. Empty: no limit.",
    "flat": "Width of the cutter's flat.",
    "angle": "Included angle of the cutter in degrees.",
    "blade height": "Height of the uncut blade.",
    "blade length": "From the shoulder to the tip.",
    "locks": "The cuts each lock reads: ignition: 1-8; door: 1-6.",
    "rules": "Rules of the series: even_sum; max_equal_run 3; forbidden_first 1.",
    "can recut": "no when a finished cut cannot be made deeper; otherwise empty or yes.",
    "source": "Where the figures come from.",
    "notes": "Anything else.",
}
MOST_ROWS = 2_000


@dataclass(frozen=True)
class SheetRow:
    """One row read: its line, and either the system with its source and notes, or what is wrong with it."""

    line: int
    system: KeySystem | None = None
    source: str = ""
    notes: str = ""
    fault: str = ""


def write_table(sheets: Iterable[tuple[KeySystem, str, str]]) -> str:
    """The CSV text of systems with their sources and notes."""
    return write_csv(list(COLUMNS), (_written(*sheet) for sheet in sheets))


def _written(system: KeySystem, source: str, notes: str) -> list[str]:
    unit = system.unit
    return [
        system.name,
        unit,
        str(system.layout),
        str(system.stop),
        str(system.reads),
        " ".join(shown.positions_of(system)),
        " ".join(shown.second_edge_of(system)),
        write_depths(shown.depths_of(system)),
        "" if system.macs is None else str(system.macs),
        shown.shown_length(system.flat_mm, unit),
        shown.shown_length(system.angle_deg, "mm"),
        shown.shown_length(system.blade_height_mm, unit),
        shown.shown_length(system.blade_length_mm, unit),
        write_locks(system.locks),
        line_from_rules(system.rules),
        "yes" if system.can_recut else "no",
        source,
        notes,
    ]


def read_table(data: bytes) -> list[SheetRow]:
    """Every row of the file, good or wrong. Raises BadFile when it is no table of key systems."""
    table = read_csv(data)
    columns = {head: place for place, head in enumerate(table.heads) if head in COLUMNS}
    lacking = [head for head in ("name", "positions", "depths") if head not in columns]
    if lacking:
        raise BadFile(f"The file has no column {' or '.join(lacking)}. Its columns: {', '.join(table.heads[:20])}.")
    return list(_read_rows(table, columns))


def _read_rows(table: CsvText, columns: dict[str, int]) -> Iterator[SheetRow]:
    seen: dict[str, int] = {}
    for number, row in enumerate(table.rows(), 1):
        if number > MOST_ROWS:
            raise BadFile(f"The file has more than {MOST_ROWS:,} rows.")
        text = {name: unguarded(cell(row, columns, name)) for name in COLUMNS}
        read = _read_row(row.line, text, is_whole=not any(row.cells[len(table.heads) :]))
        name = text["name"].casefold()
        if not read.fault and name in seen:
            read = SheetRow(row.line, fault=f"{text['name']} already stands in line {seen[name]}.")
        seen.setdefault(name, row.line)
        yield read


def _read_row(line: int, text: Mapping[str, str], *, is_whole: bool) -> SheetRow:
    if not is_whole:
        return SheetRow(line, fault="More cells than the file has columns: quote a text that holds the column mark.")
    typed: dict[str, Any] = {name.replace(" ", "_"): value for name, value in text.items()}
    typed["can_recut"] = text["can recut"].lower() != "no"
    try:
        system = build_system({**typed, **dict.fromkeys(FIELDS.values(), "")})
        rules = [rule_from_json(data) for data in rules_from_line(text["rules"])]
        system = KeySystem.from_json({**system.to_json(), "rules": [rule.to_json() for rule in rules]})
    except ImpossibleSystem as error:
        return SheetRow(line, fault=f"{error.field.replace('_', ' ').capitalize()}: {error}")
    except BadRule as error:
        return SheetRow(line, fault=str(error))
    except KeysError as error:
        return SheetRow(line, fault=f"Rules: {error}")
    return SheetRow(line, system, text["source"], text["notes"])
