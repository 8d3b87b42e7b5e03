"""A procedure as it is typed: rows that are added, moved and removed, then read into content or told what is wrong."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from vehicles.procedure_content import (
    MOST_STEPS,
    Content,
    Doubt,
    StepContent,
    faults_of,
    plain,
    read_figure,
    read_volts,
    read_wait,
    wait_words,
)

LONGEST = {"words": 500, "caution": 300, "unit": 12, "source": 300, "proved_by": 200, "change_words": 300}
LONGEST_EQUIPMENT = 120
HEAD = ("source", "proved_by", "equipment", "low_volts", "high_volts", "change_words")


@dataclass
class TypedStep:
    """One row of the sheet, as text; `errors` by field."""

    kind: str = "do"
    words: str = ""
    caution: str = ""
    unit: str = ""
    low: str = ""
    high: str = ""
    wait: str = ""
    is_uninterruptible: bool = False
    asks_immobilizer_light: bool = False
    errors: dict[str, str] = field(default_factory=dict)


@dataclass
class ProcedureSheet:
    """What is typed. `read` gives the content, or None with `errors` here and in the rows."""

    rows: list[TypedStep] = field(default_factory=lambda: [TypedStep()])
    head: dict[str, str] = field(default_factory=lambda: dict.fromkeys(HEAD, ""))
    errors: dict[str, str] = field(default_factory=dict)

    @classmethod
    def of_content(cls, content: Content) -> "ProcedureSheet":
        head = {
            "source": content.source,
            "proved_by": content.proved_by,
            "equipment": "\n".join(content.equipment),
            "low_volts": plain(content.low_volts),
            "high_volts": plain(content.high_volts),
            "change_words": "",
        }
        return cls([_typed(step) for step in content.steps], head)

    @classmethod
    def of_post(cls, post: Mapping[str, str]) -> "ProcedureSheet":
        """The fields of the page: `source`, ..., `steps` (how many), `1-words`, ..."""
        count = post.get("steps", "")
        # One more than may be, so that too many is told as such.
        number = min(int(count), MOST_STEPS + 1) if count.isascii() and count.isdecimal() and len(count) < 4 else 0
        rows = [_posted(post, position) for position in range(1, number + 1)]
        return cls(rows, {name: _clean(post.get(name, "")) for name in HEAD})

    def change(self, act: str) -> bool:
        """Carries out `add-3` (a row after the third), `up-3`, `down-3`, `remove-3`. False when it is none of these."""
        verb, _, text = act.partition("-")
        if not (text.isascii() and text.isdecimal() and len(text) < 4):
            return False
        at = int(text)
        if verb == "add" and at <= len(self.rows) < MOST_STEPS:
            self.rows.insert(at, TypedStep())
        elif verb == "remove" and 1 <= at <= len(self.rows):
            del self.rows[at - 1]
        elif verb == "up" and 2 <= at <= len(self.rows):
            self._swap(at - 2)
        elif verb == "down" and 1 <= at < len(self.rows):
            self._swap(at - 1)
        return verb in ("add", "remove", "up", "down")

    def _swap(self, upper: int) -> None:
        self.rows[upper : upper + 2] = reversed(self.rows[upper : upper + 2])

    def read(self) -> Content | None:
        """The content, or None when something must be mended first."""
        self.errors = {}
        steps = tuple(self._step(row) for row in self.rows)
        content = Content(
            steps=steps,
            source=self.head["source"],
            proved_by=self.head["proved_by"],
            equipment=tuple(line for line in self.head["equipment"].split("\n") if line),
            low_volts=self._volts("low_volts"),
            high_volts=self._volts("high_volts"),
        )
        self._check_lengths()
        for fault in faults_of(content):
            errors = self.rows[fault.step - 1].errors if fault.step else self.errors
            errors.setdefault("wait" if fault.field == "seconds" else fault.field, fault.words)
        return None if self.errors or any(row.errors for row in self.rows) else content

    def _step(self, row: TypedStep) -> StepContent:
        row.errors = {}
        for name in ("words", "caution", "unit"):
            if len(getattr(row, name)) > LONGEST[name]:
                row.errors[name] = f"At most {LONGEST[name]} letters."
        is_measure = row.kind == "measure"
        return StepContent(
            kind=row.kind,
            words=row.words,
            caution=row.caution,
            unit=row.unit if is_measure else "",
            low=_limit(row, "low") if is_measure else None,
            high=_limit(row, "high") if is_measure else None,
            seconds=_wait(row) if row.kind == "wait" else None,
            is_uninterruptible=row.is_uninterruptible,
            asks_immobilizer_light=row.asks_immobilizer_light,
        )

    def _volts(self, name: str) -> Decimal | None:
        try:
            return read_volts(self.head[name])
        except Doubt as doubt:
            self.errors[name] = str(doubt)
            return None

    def _check_lengths(self) -> None:
        for name in ("source", "proved_by", "change_words"):
            if len(self.head[name]) > LONGEST[name]:
                self.errors[name] = f"At most {LONGEST[name]} letters."
        if any(len(line) > LONGEST_EQUIPMENT for line in self.head["equipment"].split("\n")):
            self.errors["equipment"] = f"At most {LONGEST_EQUIPMENT} letters in a line."


def _clean(text: str) -> str:
    lines = (" ".join(line.split()) for line in text.replace("\0", "").splitlines())
    return "\n".join(lines).strip()


def _posted(post: Mapping[str, str], position: int) -> TypedStep:
    def text(name: str) -> str:
        return " ".join(_clean(post.get(f"{position}-{name}", "")).split())

    return TypedStep(
        **{name: text(name) for name in ("kind", "words", "caution", "unit", "low", "high", "wait")},  # type: ignore[arg-type]
        is_uninterruptible=bool(text("is_uninterruptible")),
        asks_immobilizer_light=bool(text("asks_immobilizer_light")),
    )


def _typed(step: StepContent) -> TypedStep:
    return TypedStep(
        kind=step.kind,
        words=step.words,
        caution=step.caution,
        unit=step.unit,
        low=plain(step.low),
        high=plain(step.high),
        wait=wait_words(step.seconds),
        is_uninterruptible=step.is_uninterruptible,
        asks_immobilizer_light=step.asks_immobilizer_light,
    )


def _limit(row: TypedStep, name: str) -> Decimal | None:
    try:
        return read_figure(getattr(row, name))
    except Doubt as doubt:
        row.errors[name] = str(doubt)
        return None


def _wait(row: TypedStep) -> int | None:
    if not row.wait:
        return None
    try:
        return read_wait(row.wait)
    except Doubt as doubt:
        row.errors["wait"] = str(doubt)
        return None
