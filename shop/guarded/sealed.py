"""A guarded value as it comes from the database: shut."""

from typing import Any, NoReturn

from shop.guarded.errors import NotPermitted
from shop.guarded.keyring import keyring
from shop.guarded.permit import Permit


class Sealed:
    """Shows nothing in text, logs, templates or pickles. `open` with a permit gives the value."""

    __slots__ = ("_kind", "_token")

    def __init__(self, kind: str, token: bytes) -> None:
        self._kind = kind
        self._token = bytes(token)

    def open(self, permit: Permit) -> Any:
        """The value. Raises NotPermitted without a permit for this kind, WrongGuardKey when no key fits."""
        if not isinstance(permit, Permit) or self._kind not in permit.kinds:
            raise NotPermitted("This may only be opened with a reason, and the opening is recorded.")
        return keyring().unseal(self._kind, self._token)

    @property
    def token(self) -> bytes:
        """The ciphertext, to be written back unread."""
        return self._token

    def __repr__(self) -> str:
        return "sealed"

    __str__ = __repr__

    def __format__(self, spec: str) -> str:
        return format("sealed", spec)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Sealed) and (self._kind, self._token) == (other._kind, other._token)

    def __hash__(self) -> int:
        return hash((self._kind, self._token))

    def __reduce__(self) -> NoReturn:
        raise TypeError("A sealed value is not copied out of the program.")
