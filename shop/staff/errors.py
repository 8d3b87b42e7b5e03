"""What the rules about people and sign-in do not allow."""

from shop.errors import Refused


class LastOwner(Refused):
    """The shop would be left with nobody who may run it."""

    def __init__(self, *, field: str | None = None) -> None:
        super().__init__("The shop needs at least one owner who can sign in.", field=field)


class NotYourself(Refused):
    """Somebody tried to switch off their own sign-in."""


class AlreadySetUp(Refused):
    """The shop has people already; the first owner can be made only once."""


class WrongSignIn(Refused):
    """E-mail and password do not belong together. Says no more, so that nobody learns which e-mails exist."""


class SwitchedOff(Refused):
    """The right password of a person whose sign-in is switched off."""


class TooManyTries(Refused):
    """So many wrong tries that guessing is slowed down."""
