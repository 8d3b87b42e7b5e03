"""What the rules of billing refuse, in words fit to show."""

from shop.errors import Refused


class NothingToTell(Refused):
    """A price without lines, or of less than nothing."""


class PriceSettled(Refused):
    """The price can no longer be told or accepted: it is accepted, overtaken or invoiced."""


class AlreadyIssued(Refused):
    """An issued invoice never changes."""


class NotYet(Refused):
    """The job or invoice is not far enough for this."""


class TotalMoved(Refused):
    """The invoice comes to another total than the one that was shown."""


class WrongAmount(Refused):
    """A payment of nothing, of too much, or finer than the currency."""


class PriceBookFault(Refused):
    """A change of the price book that would leave it with a gap, an overlap or a price below nothing."""
