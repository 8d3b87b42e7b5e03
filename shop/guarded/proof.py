"""Proof at the start that the keys given are the shop's: a known text, sealed once, must open."""

from django.db import connection, transaction

from shop.guarded.errors import WrongGuardKey
from shop.guarded.keyring import keyring
from shop.models import GuardProof

KIND = "shop.guardproof"
TEXT = "Bittern opens with this key."


@transaction.atomic
def prove_keys() -> None:
    """Seals the known text on the first start; afterwards refuses keys that do not open it.

    Raises WrongGuardKey, in words for whoever starts the program. Nothing is changed by a refusal.
    """
    if GuardProof._meta.db_table not in connection.introspection.table_names():
        return
    ring = keyring()
    proof, made = GuardProof.objects.get_or_create(
        id=GuardProof.SINGLE_ID,
        defaults={"token": ring.seal(KIND, TEXT), "index_proof": ring.fingerprint(KIND, TEXT)},
    )
    if made:
        return
    try:
        ring.unseal(KIND, proof.token)
    except WrongGuardKey:
        raise WrongGuardKey(_words("GUARD_KEYS", "Bring back the file of keys, or the backup of it")) from None
    if proof.index_proof != ring.fingerprint(KIND, TEXT):
        raise WrongGuardKey(_words("GUARD_INDEX_KEY", "Bring back the key"))


def _words(name: str, way: str) -> str:
    return (
        f"{name} is not the key with which this shop's guarded data was sealed. Nothing was changed. "
        f"{way} (setting {name} or {name}_FILE, else secrets/{name.lower()} in the state folder), then start again."
    )
