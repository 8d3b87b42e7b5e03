"""What can go wrong with guarded values."""

from shop.errors import Refused


class WrongGuardKey(Exception):
    """The key that this value was encrypted with is not among the keys given. Nothing was changed."""


class NotPermitted(Refused):
    """Somebody tried to open a guarded value without a permit for it."""
