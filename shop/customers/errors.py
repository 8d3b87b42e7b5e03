"""What the rules about customers do not allow."""

from shop.errors import Refused


class KnownAlready(Refused):
    """The same number or e-mail twice at one customer."""
