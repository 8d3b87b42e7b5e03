"""Secrets that the program makes for itself, by processes that start in the same instant."""

import secrets
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Barrier

import pytest
from django.core.exceptions import ImproperlyConfigured

from shop.config import secret

NAME = "BITTERN_TEST_SECRET"
AT_ONCE = 8


def test_all_who_ask_at_once_get_the_same_whole_secret(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    make, start = secrets.token_urlsafe, Barrier(AT_ONCE)

    def slowly(length: int) -> str:
        time.sleep(0.05)
        return make(length)

    def ask(_: int) -> str:
        start.wait()
        return secret(NAME, tmp_path)

    monkeypatch.setattr(secrets, "token_urlsafe", slowly)
    with ThreadPoolExecutor(AT_ONCE) as pool:
        given = set(pool.map(ask, range(AT_ONCE)))
    assert len(given) == 1
    assert len(given.pop()) == 64  # 48 bytes in base64 (RFC 4648): four characters for every three bytes.


def test_the_kept_file_is_the_owners_alone_and_nothing_lies_beside_it(tmp_path: Path) -> None:
    given = secret(NAME, tmp_path)
    kept = tmp_path / "secrets" / NAME.lower()
    assert list(kept.parent.iterdir()) == [kept]
    assert kept.stat().st_mode & 0o777 == 0o600
    assert kept.parent.stat().st_mode & 0o777 == 0o700
    assert secret(NAME, tmp_path) == given == kept.read_text()


def test_a_named_file_wins_over_the_kept_one_and_must_be_readable(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    named = tmp_path / "named"
    named.write_text("typed by hand\n")
    monkeypatch.setenv(f"{NAME}_FILE", str(named))
    assert secret(NAME, tmp_path) == "typed by hand"
    named.unlink()
    with pytest.raises(ImproperlyConfigured, match="cannot be read"):
        secret(NAME, tmp_path)
