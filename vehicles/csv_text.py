"""CSV files as people's programs write them: byte-order marks, semicolons or tabs, quoted commas. No Django."""

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

_MARKS = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))
_DELIMITERS = (";", "\t", ",")
_WORDS = {";": "semicolons", "\t": "tabs", ",": "commas"}
csv.field_size_limit(100_000)


class BadFile(ValueError):
    """A file that is no readable CSV; the words are fit to show."""


@dataclass(frozen=True)
class Row:
    """One row of the file and the line it ends on, from 1."""

    line: int
    cells: list[str]


@dataclass(frozen=True)
class CsvText:
    """A decoded file: its heads in small letters, and what parts its columns."""

    text: str
    heads: tuple[str, ...]
    delimiter: str
    was_marked: bool

    @property
    def words(self) -> str:
        return f"Columns parted by {_WORDS[self.delimiter]}."

    def rows(self) -> Iterator[Row]:
        """The rows under the heads; empty ones are left out. Raises BadFile for a quote that never ends."""
        reader = csv.reader(io.StringIO(self.text, newline=""), delimiter=self.delimiter, strict=True)
        next(reader, None)
        while True:
            try:
                cells = next(reader)
            except StopIteration:
                return
            except csv.Error as error:
                raise BadFile(f"Line {reader.line_num}: {_plain(error)}") from None
            if any(cell.strip() for cell in cells):
                yield Row(reader.line_num, cells)


def _plain(error: csv.Error) -> str:
    if "unexpected end" in str(error):
        return "a quotation mark is never closed."
    return f"this line cannot be read as CSV ({error})."


def read_csv(data: bytes) -> CsvText:
    """The file's text with its heads. Raises BadFile when it is empty, no text, or in an unknown encoding."""
    text, was_marked = _decoded(data)
    if "\0" in text:
        raise BadFile("This file is not text. Save the table as CSV and choose that file.")
    first = next((line for line in text.splitlines() if line.strip()), "")
    if not first:
        raise BadFile("The file is empty.")
    delimiter = max(_DELIMITERS, key=first.count)
    start = text.index(first)
    lines_before = text.count("\n", 0, start)
    if lines_before:
        raise BadFile(f"The heads of the columns must stand in line 1; there they begin in line {lines_before + 1}.")
    try:
        heads = next(csv.reader(io.StringIO(text[start:], newline=""), delimiter=delimiter, strict=True))
    except csv.Error as error:
        raise BadFile(f"Line 1: {_plain(error)}") from None
    return CsvText(text, tuple(" ".join(head.split()).lower() for head in heads), delimiter, was_marked)


def _decoded(data: bytes) -> tuple[str, bool]:
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            try:
                return data.decode(encoding).removeprefix("\ufeff"), True
            except UnicodeDecodeError:
                raise BadFile(f"The file says it is {encoding[:6].upper()} but is not. Save it as UTF-8.") from None
    try:
        return data.decode("utf-8"), False
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise BadFile(
            f"Line {line}: the file is not in UTF-8. Save it again as CSV UTF-8; nothing has been taken in."
        ) from None


def cell(row: Row, columns: dict[str, int], name: str) -> str:
    """The trimmed text of a named column; empty when the row or the file lacks it."""
    place = columns.get(name)
    return row.cells[place].strip() if place is not None and place < len(row.cells) else ""


def write_csv(heads: Sequence[str], rows: Iterator[Sequence[str]]) -> str:
    """A CSV text with commas. A cell that a spreadsheet would take for a formula is led by an apostrophe."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(heads)
    writer.writerows([guarded(text) for text in row] for row in rows)
    return out.getvalue()


def guarded(text: str) -> str:
    return f"'{text}" if text.startswith(("=", "+", "-", "@", "\t", "\r")) else text


def unguarded(text: str) -> str:
    return text[1:] if text[:1] == "'" and text[1:2] in ("=", "+", "-", "@", "\t", "\r") else text
