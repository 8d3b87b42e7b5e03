"""The columns of the diary as HTML.

Written here and not in a template, because a full day has a thousand values in its blocks and a template looks each of
them up by name: this loop is ten times quicker, and the day sheet is drawn more often than any other page. Everything
that people typed goes through `escape`.
"""

from collections.abc import Iterable
from html import escape

from django.utils.safestring import SafeString, mark_safe

from jobs.day.columns import Block, Column
from jobs.states import VisitState

# Below this a block has room for one line only.
SHORT_ROWS = 5


def draw_columns(columns: Iterable[Column], *, chosen: int | None, now_row: int | None) -> SafeString:
    """All columns of the page; the chosen job's visits are marked."""
    return mark_safe("".join(draw_column(column, chosen=chosen, now_row=now_row) for column in columns))


def draw_column(column: Column, *, chosen: int | None, now_row: int | None) -> str:
    name = escape(column.name)
    shift = "" if column.shift_from is None else f' data-from="{column.shift_from}" data-until="{column.shift_until}"'
    shades = "".join(f'<div class="off-shift" data-at="{at}" data-for="{rows}"></div>' for at, rows in column.shades)
    blocks = "".join(draw_block(block, is_chosen=block.number == chosen) for block in column.blocks)
    now = "" if now_row is None else f'<span class="now-line" data-at="{now_row}"></span>'
    return (
        f'<div class="diary-column" role="group" aria-label="{name}, {escape(column.shift)}"'
        f' data-technician="{column.technician_id}" data-name="{name}"{shift}>{shades}{blocks}{now}</div>\n'
    )


def draw_block(block: Block, *, is_chosen: bool) -> str:
    """A visit with the drive before it and the bracket of its promise."""
    classes = f"visit visit-{block.state}"
    if block.rows < SHORT_ROWS:
        classes += " visit-short"
    if is_chosen:
        classes += " visit-chosen"
    return (
        f'{_drive(block)}{_bracket(block)}<a class="{classes}" id="visit-{block.visit_id}" href="?job={block.number}"'
        f' draggable="false" data-at="{block.at}" data-for="{block.rows}" data-job="{block.number}"'
        f' data-visit="{block.visit_id}" data-start="{block.start}" data-length="{block.length}"{_hints(block)}>'
        f'<span class="visit-line">{block.mark}<strong>{block.number}</strong>'
        f'<span class="visit-state">{block.word}</span></span>{_lines(block)}'
        f'<span class="read-aloud">{block.times}</span>'
        f"{FOOT if block.can else ''}</a>"
    )


FOOT = '<span class="visit-foot" data-foot></span>'


def _drive(block: Block) -> str:
    if not block.drive_rows:
        return ""
    rows = f'data-at="{block.drive_at}" data-for="{block.drive_rows}"'
    return f'<div class="drive" {rows}><span>{block.drive} min drive</span></div>'


def _bracket(block: Block) -> str:
    if not block.promise_rows:
        return ""
    late = " promise-late" if block.late else ""
    lane = " promise-second" if block.lane else ""
    return f'<div class="promise{late}{lane}" data-at="{block.promise_at}" data-for="{block.promise_rows}"></div>'


def _hints(block: Block) -> str:
    """What the page's script needs to say what a move would break."""
    promise = "" if block.promise_until is None else f' data-until="{block.promise_until}"'
    return f'{promise} data-can="{block.can}" data-seen="{block.seen}"' if block.can else promise


def _lines(block: Block) -> str:
    late = "visit-was-late" if block.state == VisitState.FINISHED else "late"
    lines = [
        (late, block.late),
        ("late", block.overdue),
        ("visit-danger", block.danger),
        ("visit-kind", block.kind),
        ("visit-who", escape(block.customer)),
        ("visit-where", escape(block.place)),
    ]
    return "".join(f'<span class="{name}">{words}</span>' for name, words in lines if words)
