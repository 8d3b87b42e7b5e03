"""The keys of guarded values: the newest encrypts, all of them open; one more makes fingerprints for search.

Encryption is Fernet (AES-128-CBC with HMAC-SHA256, https://github.com/fernet/spec) by the cryptography package; each
Fernet key is derived from one of the shop's secrets by HKDF-SHA256 (RFC 5869). A fingerprint is HMAC-SHA256 under a key
of its own (RFC 2104), so that it survives a change of the encrypting key.
"""

import base64
import hashlib
import hmac
import json
from collections.abc import Iterable
from functools import lru_cache
from typing import Any

from cryptography.fernet import Fernet, InvalidToken, MultiFernet
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings
from django.core.exceptions import ImproperlyConfigured

from shop.guarded.errors import WrongGuardKey

SHORTEST_SECRET = 32


class Keyring:
    """Encrypts, opens and fingerprints. `secrets` are texts, the newest first."""

    def __init__(self, secrets: Iterable[str], *, index_secret: str) -> None:
        given = [secret.strip() for secret in secrets if secret.strip()]
        if not given or min(map(len, [*given, index_secret])) < SHORTEST_SECRET:
            raise ImproperlyConfigured(
                f"GUARD_KEYS and GUARD_INDEX_KEY need secrets of at least {SHORTEST_SECRET} characters. "
                "Make one with: python -c 'import secrets; print(secrets.token_urlsafe(48))'"
            )
        self._fernets = [Fernet(base64.urlsafe_b64encode(_derive(secret, b"bittern guard"))) for secret in given]
        self._all = MultiFernet(self._fernets)
        self._index = _derive(index_secret, b"bittern index")

    def seal(self, kind: str, value: Any) -> bytes:
        """Ciphertext of a JSON value, bound to its kind: a token copied to another column does not open there."""
        return self._all.encrypt(json.dumps([kind, value], separators=(",", ":")).encode())

    def unseal(self, kind: str, token: bytes | memoryview) -> Any:
        """The value again. Raises WrongGuardKey when no key fits or the token is of another kind."""
        try:
            named, value = json.loads(self._all.decrypt(bytes(token)))
        except InvalidToken:
            raise WrongGuardKey("A guarded value does not open with the keys given.") from None
        if named != kind:
            raise WrongGuardKey(f"A guarded value of another kind lies where {kind} belongs.")
        return value

    def seal_bytes(self, content: bytes) -> bytes:
        """Ciphertext of a file."""
        return self._all.encrypt(content)

    def unseal_bytes(self, token: bytes | memoryview) -> bytes:
        """A file's content again. Raises WrongGuardKey."""
        try:
            return self._all.decrypt(bytes(token))
        except InvalidToken:
            raise WrongGuardKey("A guarded file does not open with the keys given.") from None

    def is_newest(self, token: bytes | memoryview) -> bool:
        """Whether the newest key made this token."""
        try:
            self._fernets[0].decrypt(bytes(token))
        except InvalidToken:
            return False
        return True

    def renew(self, token: bytes | memoryview) -> bytes:
        """The same value under the newest key. Raises WrongGuardKey."""
        try:
            return self._all.rotate(bytes(token))
        except InvalidToken:
            raise WrongGuardKey("A guarded value does not open with the keys given.") from None

    def fingerprint(self, kind: str, text: str) -> str:
        """A keyed hash by which equal texts are found without being kept; capitals, spaces and hyphens do not count."""
        plain = "".join(text.split()).replace("-", "").upper()
        return hmac.new(self._index, f"{kind}\0{plain}".encode(), hashlib.sha256).hexdigest()


def _derive(secret: str, purpose: bytes) -> bytes:
    return HKDF(algorithm=hashes.SHA256(), length=32, salt=None, info=purpose).derive(secret.encode())


def keyring() -> Keyring:
    """The shop's keyring, from the settings GUARD_KEYS and GUARD_INDEX_KEY."""
    return _kept(settings.GUARD_KEYS, settings.GUARD_INDEX_KEY)


@lru_cache(maxsize=4)
def _kept(keys: str, index_key: str) -> Keyring:
    return Keyring(keys.split(","), index_secret=index_key)
