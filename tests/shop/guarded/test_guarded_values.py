"""Guarded values: shut when read, bound to their column, found by fingerprint, refused under wrong keys."""

import copy
import json
import pickle

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.utils.html import format_html
from hypothesis import given
from hypothesis import strategies as st

from shop.guarded import Keyring, NotPermitted, Permit, Sealed, WrongGuardKey, keyring
from shop.guarded.proof import prove_keys
from shop.models import GuardProof

OLD, NEW, INDEX = "o" * 40, "n" * 40, "i" * 40
json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
)


def sealed(value: object, kind: str = "a.b.c") -> Sealed:
    return Sealed(kind, keyring().seal(kind, value))


@given(json_values)
def test_a_value_opens_as_it_was_written(value: object) -> None:
    assert sealed(value).open(Permit(frozenset({"a.b.c"}), "1")) == value


def test_a_sealed_value_shows_nothing() -> None:
    shut = sealed("KX4471")
    shown = [repr(shut), str(shut), f"{shut}", f"{shut:>10}", format_html("{}", shut)]
    assert all("KX4471" not in each and "sealed" in each for each in shown)


def test_a_sealed_value_is_not_copied_out() -> None:
    for take in (pickle.dumps, copy.deepcopy, json.dumps):
        with pytest.raises(TypeError):
            take(sealed("KX4471"))


def test_a_permit_for_something_else_does_not_open() -> None:
    with pytest.raises(NotPermitted):
        sealed("KX4471").open(Permit(frozenset({"a.b.d"}), "1"))


def test_a_token_moved_to_another_column_does_not_open() -> None:
    token = keyring().seal("a.b.c", "KX4471")
    with pytest.raises(WrongGuardKey):
        Sealed("a.b.d", token).open(Permit(frozenset({"a.b.d"}), "1"))


def test_an_altered_token_does_not_open() -> None:
    token = bytearray(keyring().seal("a.b.c", "KX4471"))
    token[20] ^= 1
    with pytest.raises(WrongGuardKey):
        Sealed("a.b.c", bytes(token)).open(Permit(frozenset({"a.b.c"}), "1"))


def test_the_same_value_sealed_twice_differs() -> None:
    assert keyring().seal("a.b.c", "1") != keyring().seal("a.b.c", "1")


def test_an_older_key_opens_and_is_renewed() -> None:
    before = Keyring([OLD], index_secret=INDEX)
    after = Keyring([NEW, OLD], index_secret=INDEX)
    token = before.seal("k", "value")
    assert after.unseal("k", token) == "value"
    assert not after.is_newest(token)
    fresh = after.renew(token)
    assert after.is_newest(fresh)
    assert Keyring([NEW], index_secret=INDEX).unseal("k", fresh) == "value"
    with pytest.raises(WrongGuardKey):
        Keyring([NEW], index_secret=INDEX).unseal("k", token)


def test_fingerprints_outlive_a_change_of_key_and_keep_kinds_apart() -> None:
    before, after = Keyring([OLD], index_secret=INDEX), Keyring([NEW], index_secret=INDEX)
    assert before.fingerprint("code", "kx 44-71") == after.fingerprint("code", "KX4471")
    assert before.fingerprint("code", "KX4471") != before.fingerprint("vin", "KX4471")
    assert before.fingerprint("code", "KX4471") != Keyring([OLD], index_secret=NEW).fingerprint("code", "KX4471")


@pytest.mark.parametrize("keys", [[], [""], ["short"], [OLD, "short"]])
def test_a_missing_or_short_key_is_refused_with_advice(keys: list[str]) -> None:
    with pytest.raises(ImproperlyConfigured, match="at least 32 characters"):
        Keyring(keys, index_secret=INDEX)


@pytest.mark.django_db
def test_wrong_keys_are_refused_at_the_start_and_nothing_changes() -> None:
    prove_keys()
    before = GuardProof.objects.get()
    for name in ("GUARD_KEYS", "GUARD_INDEX_KEY"):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(f"django.conf.settings.{name}", "x" * 40)
            with pytest.raises(WrongGuardKey, match=name):
                prove_keys()
    assert bytes(GuardProof.objects.get().token) == bytes(before.token)
    prove_keys()
