"""What an attacker takes away: a dump of the database and the folder of files hold no guarded value; keys are changed;
the chain tells what was done to it behind the program's back."""

import json
import re
import subprocess
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.utils import timezone

from jobs import actions as jobs
from jobs.actions.exports import ask_for_export, make_export
from jobs.actions.nights import keep_night
from jobs.models import AuthorityPhoto, Opening
from jobs.models.keeping import EXPORTS_STORAGE
from shop.embedded.programs import postgres_program
from shop.guarded import WrongGuardKey
from tests.jobs.authority.rows import BORN, NUMBER, STROKES
from tests.jobs.keeping.rows import PAPER, check_of, done, keep_until, keyed, night, photos_of, work_of
from tests.jobs.keys.rows import CODE, CUTS, FROM_DOOR, Bench, find

pytestmark = pytest.mark.django_db(transaction=True)

BIRTH, DOCUMENT = "jobs.authoritycheck.born_on", "jobs.authoritycheck.document_number"
SIGNED, KEY_CODE, CUTS_KIND = "jobs.authoritycheck.signature", "jobs.keywork.code", "jobs.keywork.bitting"


@pytest.fixture
def made(settings: Any, tmp_path: Path) -> Bench:
    """A key made after the check, with papers, signature, code, trials and cuts; and the customer's opened file."""
    settings.MEDIA_ROOT = str(tmp_path / "media")
    made = keyed()
    made.read_door()
    find(made)
    made.final_keys(2)
    done(made)
    make_export(ask_for_export(made.job.customer, actor=made.boss, reason="Letter of 3 March"))
    return made


def spellings(value: str) -> Iterator[str]:
    """A value as it may lie about: as typed, without spaces and hyphens, as hexadecimal digits."""
    bare = re.sub(r"[\s-]", "", value)
    yield from (value, bare, value.encode().hex(), bare.encode().hex())


def guarded_values() -> list[str]:
    dates = [BORN.isoformat(), BORN.strftime("%d.%m.%Y"), BORN.strftime("%d %B %Y"), BORN.strftime("%Y%m%d")]
    points = [", ".join(map(str, point)) for point in STROKES[0]]
    strokes = [json.dumps(STROKES[0]), json.dumps(STROKES[0], separators=(",", ":")), f"[{points[1]}], [{points[2]}]"]
    cuts = [glue.join(CUTS) for glue in (",", ", ", '", "', '","', "-", " ")]
    known = [json.dumps(FROM_DOOR), json.dumps(FROM_DOOR, separators=(",", ":"))]
    return [*dates, NUMBER, *strokes, CODE, *cuts, *known, PAPER.decode("latin-1")]


def dump() -> str:
    """The database as the shipped pg_dump writes it."""
    kept = connection.settings_dict
    command = [str(postgres_program("pg_dump")), "--host", kept["HOST"], "--port", str(kept["PORT"] or 5432)]
    done = subprocess.run(
        [*command, "--username", kept["USER"], kept["NAME"]], check=True, capture_output=True, timeout=120
    )
    return done.stdout.decode()


def found_in(text: str) -> list[str]:
    bare = re.sub(r"[\s-]", "", text)
    return [value for value in guarded_values() for spelled in spellings(value) if spelled in text or spelled in bare]


def test_neither_dump_nor_files_hold_a_guarded_value(made: Bench, tmp_path: Path) -> None:
    text = dump()
    # The dump is whole: what is not guarded stands in it.
    assert "Ella Holmere" in text and "jobs_authoritycheck" in text and "14 Mill Lane" in text
    assert found_in(text) == []
    files = [path for path in (tmp_path / "media").rglob("*") if path.is_file()]
    # The photo of papers and the customer's file.
    assert len(files) >= 2
    for path in files:
        assert found_in(path.read_bytes().decode("latin-1")) == [], path.name


def test_the_search_finds_what_lies_in_the_clear(made: Bench) -> None:
    """Guards the test above against searching for the wrong spelling."""
    jobs.add_note(made.job, actor=made.me, words=f"{NUMBER} {CODE} {BORN.isoformat()} {','.join(CUTS)}")
    assert {NUMBER, CODE, BORN.isoformat(), ",".join(CUTS)} <= set(found_in(dump()))


def test_after_rotation_the_old_key_is_not_needed(made: Bench, settings: Any) -> None:
    old, new = settings.GUARD_KEYS, "n" * 48
    export = made.job.customer.exports.get()
    settings.GUARD_KEYS = f"{new},{old}"
    call_command("rotate_guard", verbosity=0)
    settings.GUARD_KEYS = new
    kinds = [BIRTH, DOCUMENT, SIGNED, AuthorityPhoto.KIND, KEY_CODE, CUTS_KIND]
    permit = jobs.open_guarded(made.job, actor=made.boss, kinds=kinds, reason="After the change of keys")
    check: Any = check_of(made)
    work: Any = work_of(made)
    assert (check.born_on.open(permit), check.document_number.open(permit)) == (BORN.isoformat(), NUMBER)
    assert (work.code.open(permit), work.bitting.open(permit)) == (CODE, list(CUTS))
    assert photos_of(made)[0].read(permit) == PAPER
    assert EXPORTS_STORAGE.read(str(export.file.name))[:2] == b"PK"
    call_command("check_openings", verbosity=0)
    settings.GUARD_KEYS = old
    with pytest.raises(WrongGuardKey):
        check.born_on.open(permit)


def test_the_chain_proves_after_the_night_and_tells_what_sql_did(made: Bench) -> None:
    keep_until(check_of(made), timezone.localdate() - timedelta(days=1))
    keep_night(night())
    assert check_of(made).born_on is None and Opening.objects.count() > 1
    call_command("check_openings", verbosity=0)
    with connection.cursor() as cursor:
        cursor.execute("SET bittern.may_erase = 'yes'")
        cursor.execute("DELETE FROM jobs_opening WHERE number = 1")
        cursor.execute("SET bittern.may_erase = 'no'")
    with pytest.raises(CommandError):
        call_command("check_openings", verbosity=0)
