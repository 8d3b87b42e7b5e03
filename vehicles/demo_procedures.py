"""Invented procedures for the invented families of the demo. No vehicle in the world is worked on like this."""

from decimal import Decimal

from vehicles.procedure_content import Content, StepContent
from vehicles.states import KindOfWork

SUPPORT = "Battery support unit, 30 A"
PROGRAMMER = "Programmer with the round plug"
LIGHT = "Hood lamp"
LOW, HIGH = Decimal("12.40"), Decimal("14.80")


def do(words: str, caution: str = "", *, hold: bool = False) -> StepContent:
    return StepContent("do", words, caution, is_uninterruptible=hold)


def check(words: str, caution: str = "", *, light: bool = False) -> StepContent:
    return StepContent("check", words, caution, asks_immobilizer_light=light)


def wait(words: str, minutes: int, caution: str = "", *, hold: bool = False) -> StepContent:
    return StepContent("wait", words, caution, seconds=minutes * 60, is_uninterruptible=hold)


def supply(words: str = "Supply voltage at the battery posts, ignition on") -> StepContent:
    return StepContent("measure", words, unit="V", low=LOW, high=HIGH)


START = check("Start the engine with every key, one after the other.", light=True)
KEEP_AWAY = "Keep the other keys out of the car: their transponders answer as well."


def all_keys_lost(minutes: int, *extra: StepContent, proved: str) -> Content:
    """All keys lost: trial key first, support on, the long wait in the middle."""
    steps = (
        do("Cut a trial key and try it in the door and the ignition."),
        do("Connect the battery support unit, red to plus.", "Airbag wiring runs under the column: leave the trim on."),
        supply(),
        check("Count the flashes of the immobilizer's light with the ignition on.", light=True),
        *extra,
        do("Choose “all keys” in the programmer and confirm.", hold=True),
        wait(
            "Leave the ignition on; the control unit opens after the wait.",
            minutes,
            "Never let the supply drop.",
            hold=True,
        ),
        do("Present each new key within ten seconds of the other.", KEEP_AWAY),
        START,
    )
    return Content(steps, "Worked out in the shop", proved, (SUPPORT, PROGRAMMER), LOW, HIGH)


def duplicate(proved: str) -> Content:
    steps = (
        do("Decode the working key and cut the new one.", "Cut the plain trial key first."),
        check("Does the trial key turn door and ignition?"),
        supply(),
        do("Learn the new key with the working one beside it.", KEEP_AWAY),
        START,
    )
    return Content(steps, "Worked out in the shop", proved, (PROGRAMMER,), LOW, HIGH)


def fob(minutes: int, proved: str) -> Content:
    steps = (
        do("Lay the new fob into the slot, blade down."),
        supply(),
        do("Choose “fobs” in the programmer and confirm.", hold=True),
        wait("The car counts its fobs.", minutes, hold=True),
        check("Every button of every fob, from three steps away."),
        START,
    )
    return Content(steps, "Worked out in the shop", proved, (PROGRAMMER, SUPPORT), LOW, HIGH)


def ignition_lock(proved: str) -> Content:
    steps = (
        do(
            "Disconnect the battery and wait before the column trim comes off.",
            "Airbag in the wheel: wait as the maker says.",
        ),
        wait("The airbag's unit runs empty.", 10),
        do("Drill the pin at the mark and draw the lock out."),
        do("Pin the new lock to the customer's key."),
        StepContent("measure", "Play of the key in the new lock", unit="mm", high=Decimal("0.4")),
        do("Trim back on, battery back on."),
        START,
    )
    return Content(steps, "Worked out in the shop", proved, (LIGHT, "Column pullers"), None, None)


def lock_out(proved: str) -> Content:
    steps = (
        check("Is anybody locked in?", "Somebody locked in: call the emergency services first."),
        do(
            "Pick the driver's door, or use the wedge at its upper corner.",
            "Side airbag in the pillar: no rod along it.",
        ),
        check("Nothing scratched, window runs."),
    )
    return Content(steps, "Worked out in the shop", proved, ("Wedge and long reach",))


LOST, DUPLICATE, PROGRAMMING = KindOfWork.ALL_KEYS_LOST, KindOfWork.DUPLICATE_KEY, KindOfWork.PROGRAMMING
