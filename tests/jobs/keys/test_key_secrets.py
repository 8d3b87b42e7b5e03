"""After a whole key run nothing in the database tells a code or a bitting: every table is looked through."""

import pytest
from django.db import connection

from jobs import actions as jobs
from shop.guarded import keyring
from shop.guarded.rotation import guarded_columns
from tests.jobs.keys.rows import CODE, CUTS, bench, code_book, find, shown

pytestmark = pytest.mark.django_db


def every_text() -> dict[str, str]:
    """All rows of all tables as PostgreSQL writes them out, by table; bytea as hex and as text."""
    found = {}
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            cursor.execute(f'SELECT string_agg(each::text, chr(10)) FROM "{table}" AS each')
            found[table] = cursor.fetchone()[0] or ""
    return found


def told(text: str, bitting: tuple[str, ...]) -> bool:
    """Whether a bitting stands in a text in any of the ways in which the program writes one."""
    ways = ["".join(bitting), *(between.join(bitting) for between in (" ", ",", ", ", '", "', "-"))]
    ways += [f"\\x{'{}'}".format("".join(bitting).encode().hex())]
    return any(way in text for way in ways)


def test_no_column_holds_a_code_or_a_bitting_in_clear(caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level("DEBUG")
    made = bench()
    code_book(made, {CODE: CUTS})
    jobs.record_code(made.job, actor=made.me, code=CODE, where_found="Tag")
    made.read_door()
    tried = [shown(made).step]
    made.answer("does not turn")
    find(made)
    made.final_keys()
    # The licensed code book itself holds its codes and cuts; that is what it is.
    books = {"vehicles_coderow", "vehicles_codebookimport", "vehicles_codebook"}
    texts = {table: text for table, text in every_text().items() if table not in books}
    bittings = [CUTS, *(step.bitting for step in tried if step)]
    leaks = [table for table, text in texts.items() if CODE in text or any(told(text, each) for each in bittings)]
    assert not leaks
    assert CODE in every_text()["vehicles_coderow"], "the search finds what stands there in clear"
    log = caplog.text
    assert CODE not in log and not any(told(log, each) for each in bittings)


def test_the_sealed_columns_are_ciphertext_that_only_the_keyring_opens() -> None:
    made = bench()
    made.read_door()
    find(made)
    made.final_keys()
    with connection.cursor() as cursor:
        cursor.execute("SELECT bitting, trials, known FROM jobs_keywork")
        bitting, trials, known = (bytes(value) for value in cursor.fetchone())
    assert keyring().unseal("jobs.keywork.bitting", bitting) == list(CUTS)
    assert all(token.startswith(b"gAAAA") for token in (bitting, trials, known))


def test_rotation_knows_every_sealed_column() -> None:
    kinds = {field.kind for _, field in guarded_columns()}
    assert {"jobs.keywork.code", "jobs.keywork.known", "jobs.keywork.trials", "jobs.keywork.bitting"} <= kinds
    assert "jobs.keyplan.asked" in kinds
