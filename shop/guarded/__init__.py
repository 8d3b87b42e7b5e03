"""Values kept encrypted: key codes, bittings, identity numbers, signatures, papers.

A guarded value is written as it is and read back as `Sealed`, which shows nothing. Only a `Permit` opens it, and only
the action that records the opening hands out permits. What an attacker takes away (disk, dump, backup) is ciphertext.
"""

from shop.guarded.errors import NotPermitted, WrongGuardKey
from shop.guarded.keyring import Keyring, keyring
from shop.guarded.permit import Permit
from shop.guarded.sealed import Sealed

__all__ = ["Keyring", "NotPermitted", "Permit", "Sealed", "WrongGuardKey", "keyring"]
