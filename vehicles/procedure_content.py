"""What a procedure says, apart from where it is kept; what is wrong with it; and how figures are typed."""

import re
from dataclasses import dataclass, fields
from decimal import Decimal, InvalidOperation

LONGEST_WAIT_SECONDS = 12 * 3600
MOST_STEPS = 80
# The supply of a road vehicle: 6 V and 12 V systems, and 24 V systems on charge.
LEAST_VOLTS, MOST_VOLTS = Decimal(5), Decimal(32)
KINDS = ("do", "check", "measure", "wait")


class Doubt(ValueError):
    """A figure that may not be what was meant; the words ask back."""


@dataclass(frozen=True)
class StepContent:
    """One step. `low` and `high` bound a measure in `unit`; a wait lasts `seconds`."""

    kind: str
    words: str
    caution: str = ""
    unit: str = ""
    low: Decimal | None = None
    high: Decimal | None = None
    seconds: int | None = None
    is_uninterruptible: bool = False
    asks_immobilizer_light: bool = False

    @property
    def limits(self) -> str:
        """`12.4 to 14.8 V`, `at least 12.4 V`, `at most 0.2 V`, or nothing."""
        return limit_words(self.low, self.high, self.unit)

    @property
    def wait_words(self) -> str:
        """`12 min`, or nothing for a step that is no wait."""
        return wait_words(self.seconds)


@dataclass(frozen=True)
class Content:
    """A whole version. `low_volts` and `high_volts` bound the supply voltage during the work."""

    steps: tuple[StepContent, ...]
    source: str
    proved_by: str = ""
    equipment: tuple[str, ...] = ()
    low_volts: Decimal | None = None
    high_volts: Decimal | None = None

    @property
    def supply(self) -> str:
        """The limits of the supply voltage in words, or nothing."""
        return limit_words(self.low_volts, self.high_volts, "V")

    @property
    def waits(self) -> str:
        """All waits together in words, or nothing."""
        seconds = sum(step.seconds or 0 for step in self.steps)
        return wait_words(seconds) if seconds else ""


@dataclass(frozen=True)
class Fault:
    """What is wrong, in which field, and at which step (counted from 1; 0 is the procedure itself)."""

    field: str
    words: str
    step: int = 0

    def __str__(self) -> str:
        return f"Step {self.step}: {self.words}" if self.step else self.words


def faults_of(content: Content) -> list[Fault]:
    """Everything that keeps this from being a procedure, in order."""
    found = []
    if not content.source.strip():
        found.append(Fault("source", "Say where this comes from: a book, a bulletin, or who worked it out."))
    if not content.steps:
        found.append(Fault("steps", "A procedure has at least one step."))
    if len(content.steps) > MOST_STEPS:
        found.append(Fault("steps", f"A procedure has at most {MOST_STEPS} steps. Split it in two."))
    found += _volt_faults(content)
    for number, step in enumerate(content.steps, 1):
        found += [Fault(field, words, number) for field, words in _step_faults(step)]
    return found


def _volt_faults(content: Content) -> list[Fault]:
    found = []
    for name in ("low_volts", "high_volts"):
        volts = getattr(content, name)
        if volts is not None and not LEAST_VOLTS <= volts <= MOST_VOLTS:
            found.append(Fault(name, _volts_asked_back(volts)))
    low, high = content.low_volts, content.high_volts
    if not found and low is not None and high is not None and low >= high:
        found.append(Fault("high_volts", "The upper limit is not above the lower one."))
    return found


def _step_faults(step: StepContent) -> list[tuple[str, str]]:
    found = []
    if step.kind not in KINDS:
        found.append(("kind", "A step is to do, to check, to measure or to wait."))
    if not step.words.strip():
        found.append(("words", "Say what is done at this step."))
    if step.kind == "wait":
        if fault := wait_fault(step.seconds):
            found.append(("seconds", fault))
    elif step.seconds is not None:
        found.append(("seconds", "Only a wait lasts a time."))
    if step.kind == "measure":
        found += _measure_faults(step)
    elif step.unit or step.low is not None or step.high is not None:
        found.append(("unit", "Only a measure has a unit and limits."))
    return found


def _measure_faults(step: StepContent) -> list[tuple[str, str]]:
    if not step.unit.strip():
        return [("unit", "Say in which unit: V, mA, ohm, mm.")]
    if step.low is not None and step.high is not None and step.low > step.high:
        return [("high", "The upper limit lies below the lower one.")]
    if step.unit == "V":
        for name in ("low", "high"):
            value = getattr(step, name)
            if value is not None and abs(value) > MOST_VOLTS:
                return [(name, _volts_asked_back(value))]
    return []


def wait_fault(seconds: int | None) -> str:
    """Why this is no wait, or nothing."""
    if seconds is None:
        return "Say how long the wait is."
    if seconds <= 0:
        return "A wait of nothing is no wait. Make it a step to do or to check."
    if seconds > LONGEST_WAIT_SECONDS:
        return (
            f"A wait of {seconds / 3600:.0f} h is longer than a visit: at most {LONGEST_WAIT_SECONDS // 3600} h. "
            "Did you mean minutes? What lasts longer needs a second visit."
        )
    return ""


_CLOCK = re.compile(r"^(?:(\d+)\s*h)?\s*(?:(\d+)\s*(?:min|m))?\s*(?:(\d+)\s*s)?$")


def read_wait(text: str) -> int:
    """Seconds of `12 min`, `1 h 5 min`, `90 s`, `12:30` (minutes and seconds) or plain minutes. Raises Doubt."""
    typed = text.strip().lower()
    if typed.isdecimal() and typed.isascii():
        return int(typed[:6]) * 60
    if clock := re.fullmatch(r"(\d{1,4}):([0-5]\d)", typed):
        return int(clock[1]) * 60 + int(clock[2])
    parts = _CLOCK.match(typed)
    if not typed or not parts or not any(parts.groups()):
        raise Doubt("Type a wait like 12 min, 1 h 5 min or 90 s.")
    hours, minutes, seconds = (int(part[:6]) if part else 0 for part in parts.groups())
    return hours * 3600 + minutes * 60 + seconds


def wait_words(seconds: int | None) -> str:
    """`1 h 5 min`, `12 min 30 s`: what `read_wait` reads back to the same."""
    if seconds is None:
        return ""
    hours, rest = divmod(seconds, 3600)
    minutes, rest = divmod(rest, 60)
    parts = [f"{value} {unit}" for value, unit in ((hours, "h"), (minutes, "min"), (rest, "s")) if value]
    return " ".join(parts) or "0 s"


def read_figure(text: str) -> Decimal | None:
    """A figure with a point, or None for nothing. Raises Doubt for a comma and for what is no figure."""
    typed = text.strip()
    if not typed:
        return None
    if "," in typed:
        meant = typed.replace(",", ".")
        sure = f" Type {meant} if that is meant." if _is_figure(meant) else ""
        raise Doubt(f"{typed} has a comma, which may part thousands or decimals.{sure}")
    if not _is_figure(typed):
        raise Doubt(f"{typed} is no figure. Type it like 12.6.")
    return Decimal(typed)


def read_volts(text: str) -> Decimal | None:
    """Volts of a vehicle's supply; None for nothing. Raises Doubt for a comma, and for what no such supply has."""
    typed = re.sub(r"\s*v(olts?)?$", "", text.strip(), flags=re.IGNORECASE)
    volts = read_figure(typed)
    if volts is not None and not LEAST_VOLTS <= volts <= MOST_VOLTS:
        raise Doubt(_volts_asked_back(volts))
    return volts


def _is_figure(text: str) -> bool:
    try:
        return bool(re.fullmatch(r"-?\d{1,6}(\.\d{1,3})?", text)) and Decimal(text).is_finite()
    except InvalidOperation:
        return False


def _volts_asked_back(volts: Decimal) -> str:
    for power in (10, 100, 1000):
        if LEAST_VOLTS <= volts / power <= MOST_VOLTS:
            return (
                f"{plain(volts)} V is no vehicle's supply. Is {plain(volts / power)} V meant? Type it with its point."
            )
    return f"{plain(volts)} V is no vehicle's supply: between {LEAST_VOLTS} and {MOST_VOLTS} V."


def plain(value: Decimal | None) -> str:
    """The figure without needless noughts."""
    if value is None:
        return ""
    return f"{value.normalize():f}"


def limit_words(low: Decimal | None, high: Decimal | None, unit: str) -> str:
    if low is not None and high is not None:
        return f"{plain(low)} to {plain(high)} {unit}".strip()
    if low is not None:
        return f"at least {plain(low)} {unit}".strip()
    if high is not None:
        return f"at most {plain(high)} {unit}".strip()
    return ""


def step_lines(step: StepContent) -> tuple[str, ...]:
    """A step in lines of plain words, for reading and comparing."""
    lines = [f"{step.kind.capitalize()}: {step.words}"]
    if step.kind == "wait":
        lines.append(f"For {wait_words(step.seconds)}")
    if step.kind == "measure":
        lines.append(f"Limits: {step.limits}" if step.limits else f"In {step.unit}, without limits")
    if step.caution:
        lines.append(f"Caution: {step.caution}")
    if step.is_uninterruptible:
        lines.append("Never interrupt")
    if step.asks_immobilizer_light:
        lines.append("Write down the immobilizer's light")
    return tuple(lines)


STEP_FIELDS = tuple(field.name for field in fields(StepContent))
