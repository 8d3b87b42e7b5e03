"""Code books as CSV files: every row checked against its key system before any is taken. No Django.

Columns: `code`, and the cuts either in one column `bitting` (parted or run together) or in columns `cut 1`, `cut 2` and
so on. Other columns are left out.
"""

import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import islice

from vehicles.csv_text import BadFile, CsvText, Row, cell, read_csv, unguarded
from vehicles.keys import Bitting, KeysError, KeySystem, parse_bitting, violations
from vehicles.keys.lattice import Lattice

LISTED_FAULTS = 200
LONGEST_CODE = 20
_SHOWN_ROWS = 8
_TOLD_EVERY = 2_000
_CODE_HEADS = ("code", "key code", "code number")
_BITTING_HEADS = ("bitting", "cuts", "bittings")
_CUT_HEAD = re.compile(r"(?:cut|c|position|p)?[ _.-]?(\d{1,2})\Z")

# The marks that part cuts: labels of one sign are read straight off, which is most books.
_SEPARATORS = str.maketrans("", "", " \t\u00a0,;./-")

Progress = Callable[[float], object]


def plain_code(text: str) -> str:
    """A code as it is kept and looked for: capitals, no spaces or hyphens."""
    return re.sub(r"[\s\-–./]+", "", text).upper()


@dataclass(frozen=True)
class BookFacts:
    """What every code of the book must be like. In `code_format` # is a digit, @ a letter, the rest itself."""

    code_format: str = ""
    first_code: str = ""
    last_code: str = ""

    def fault(self, code: str) -> str:
        """What is wrong with a code, or nothing."""
        if not code:
            return "The code is missing."
        if len(code) > LONGEST_CODE:
            return f"{code[:LONGEST_CODE]}… is longer than the {LONGEST_CODE} letters of a code."
        if self.code_format and not _matches(self.code_format, code):
            return f"{code} is not of the form {self.code_format}."
        if self.first_code and _order(code) < _order(self.first_code):
            return f"{code} comes before {self.first_code}, the first code of the book."
        if self.last_code and _order(code) > _order(self.last_code):
            return f"{code} comes after {self.last_code}, the last code of the book."
        return ""


def _matches(code_format: str, code: str) -> bool:
    kinds = {"#": str.isdigit, "@": str.isalpha}
    return len(code) == len(code_format) and all(
        kinds[mark](sign) if mark in kinds else mark.upper() == sign
        for mark, sign in zip(code_format, code, strict=True)
    )


def _order(code: str) -> tuple[int, str]:
    return len(code), code


@dataclass
class Findings:
    """What a check found: how many rows are good, repeated (same code, same cuts) and wrong, and the first faults."""

    good: int = 0
    repeated: int = 0
    wrong: int = 0
    faults: list[tuple[int, str]] = field(default_factory=list)
    rows: list[tuple[str, Bitting]] = field(default_factory=list)
    first: str = ""
    last: str = ""
    words: str = ""

    def blame(self, line: int, words: str) -> None:
        self.wrong += 1
        if len(self.faults) < LISTED_FAULTS:
            self.faults.append((line, words))


class BookReader:
    """Reads the rows of one file for one key system. Raises BadFile for a file without the needed columns."""

    def __init__(self, data: bytes, system: KeySystem, facts: BookFacts) -> None:
        self.table = read_csv(data)
        self.system, self.facts = system, facts
        self.columns, self.cut_columns = _columns(self.table, system)
        self.findings = Findings(words=self.table.words)
        self._lattice = Lattice(system)
        self._is_short = all(len(label) == 1 for label in system.labels)
        self._lines = max(1, self.table.text.count("\n"))

    def good_rows(self, progress: Progress | None = None) -> Iterator[tuple[str, Bitting]]:
        """Each good row once; what is wrong gathers in `findings`."""
        seen: dict[str, tuple[int, Bitting]] = {}
        found = self.findings
        for number, row in enumerate(self.table.rows()):
            if progress and number % _TOLD_EVERY == 0:
                progress(min(1.0, row.line / self._lines))
            code = plain_code(unguarded(cell(row, self.columns, "code")))
            fault = self.facts.fault(code)
            bitting, wrong = self._bitting(row) if not fault else ((), fault)
            if wrong:
                found.blame(row.line, wrong)
                continue
            before = seen.get(code)
            if before is not None:
                if before[1] == bitting:
                    found.repeated += 1
                else:
                    found.blame(row.line, f"{code} already stands in line {before[0]} with other cuts.")
                continue
            seen[code] = (row.line, bitting)
            self._keep(code, bitting)
            yield code, bitting

    def _keep(self, code: str, bitting: Bitting) -> None:
        found = self.findings
        found.good += 1
        if len(found.rows) < _SHOWN_ROWS:
            found.rows.append((code, bitting))
        found.first = min(found.first or code, code, key=_order)
        found.last = max(found.last, code, key=_order)

    def _bitting(self, row: Row) -> tuple[Bitting, str]:
        if any(row.cells[len(self.table.heads) :]):
            return (), "More cells than the file has columns."
        text = (
            " ".join(row.cells[place].strip() for place in self.cut_columns if place < len(row.cells))
            if self.cut_columns
            else unguarded(cell(row, self.columns, "bitting"))
        )
        if not text.strip():
            return (), "The cuts are missing."
        plain = tuple(text.translate(_SEPARATORS)) if self._is_short else ()
        if plain and plain in self._lattice:
            return plain, ""
        try:
            read = parse_bitting(self.system, text)
        except KeysError as error:
            return (), str(error)
        bitting = tuple(label for label in read if label is not None)
        if len(bitting) != len(read):
            return (), "A code book has no unknown cuts."
        if bitting in self._lattice:
            return bitting, ""
        return (), " ".join(str(found) for found in islice(violations(self.system, bitting), 2))


def _columns(table: CsvText, system: KeySystem) -> tuple[dict[str, int], list[int]]:
    doubled = [head for head, times in Counter(table.heads).items() if times > 1 and head]
    if doubled:
        raise BadFile(f"The column {doubled[0]} stands twice in the file.")
    code = next((table.heads.index(head) for head in _CODE_HEADS if head in table.heads), None)
    if code is None:
        raise BadFile(f"The file has no column called code. Its columns: {', '.join(table.heads[:20])}.")
    bitting = next((table.heads.index(head) for head in _BITTING_HEADS if head in table.heads), None)
    if bitting is not None:
        return {"code": code, "bitting": bitting}, []
    cuts = {int(found[1]): place for place, head in enumerate(table.heads) if (found := _CUT_HEAD.match(head))}
    if not cuts:
        raise BadFile("The file has no column called bitting, and none called cut 1, cut 2 and so on.")
    if sorted(cuts) != list(range(1, system.cuts + 1)):
        raise BadFile(f"The file has columns for cuts {_listed(cuts)}; {system.name} has cuts 1 to {system.cuts}.")
    return {"code": code}, [cuts[number] for number in sorted(cuts)]


def _listed(cuts: dict[int, int]) -> str:
    return ", ".join(str(number) for number in sorted(cuts))


def check_book(data: bytes, system: KeySystem, facts: BookFacts, progress: Progress | None = None) -> Findings:
    """Reads the whole file and keeps nothing but what was found. Raises BadFile."""
    reader = BookReader(data, system, facts)
    for _ in reader.good_rows(progress):
        pass
    return reader.findings
