"""Code books in the database: taken in whole or not at all, found by any known cuts, every look written down."""

import random
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.db import DatabaseError, connection, transaction
from django.utils import timezone
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from shop.errors import Refused
from tests.cast import office, owner, technician
from vehicles.actions import add_key_system, change_key_system, copy_key_system
from vehicles.actions.code_books import (
    begin_code_book,
    check_code_book,
    clear_old_files,
    delete_code_rows,
    switch_code_book,
    take_in_code_book,
)
from vehicles.actions.code_looks import rows_with_cuts
from vehicles.code_books import bittings, bittings_among, bittings_for, codes_for, fingerprint, look_for_cuts, look_up
from vehicles.demo_data import MAKERS, ROWS_OF_A_BOOK, add_demo_key_systems, demo_bitting
from vehicles.keys import Bitting, KeySystem, violations
from vehicles.models import CodeBook, CodeBookImport, CodeBookLook, CodeRow, KeySystemSheet
from vehicles.tasks import carry_on, work_on_code_book

SYSTEM = KeySystem(name="Alder", positions_mm=[3, 5, 7, 9, 11], root_depths_mm={"1": 8, "2": "7.5", "3": 7}, macs=1)
FACTS = {"name": "A series", "source": "The maker", "licence_note": "Bought in 2026"}
GOOD = b"code,bitting\nA001,12321\nA002,12322\n"


@pytest.fixture
def sheet(db: None) -> KeySystemSheet:
    return add_key_system(actor=owner(), system=SYSTEM)


def begin(sheet: KeySystemSheet, content: bytes = GOOD, /, **facts: Any) -> CodeBookImport:
    replaces = facts.pop("replaces", None)
    return begin_code_book(
        actor=owner(), key_system=sheet, content=content, file_name="a.csv", facts=FACTS | facts, replaces=replaces
    )


def take_in(sheet: KeySystemSheet, content: bytes = GOOD, **facts: Any) -> CodeBook:
    """A book as the pages and the worker make it, step by step."""
    made = begin(sheet, content, **facts)
    work_on_code_book(made.pk)
    made = CodeBookImport.objects.get(pk=made.pk)
    take_in_code_book(made, actor=owner())
    work_on_code_book(made.pk)
    made = CodeBookImport.objects.get(pk=made.pk)
    assert made.book is not None, made.words
    return made.book


def test_a_book_is_checked_then_taken_in(sheet: KeySystemSheet) -> None:
    book = take_in(sheet, code_format="a###", first_code="a 001")
    assert (book.name, book.row_count, book.code_format, book.first_code) == ("A series", 2, "A###", "A001")
    assert {row.code: row.labels for row in book.rows.all()} == {"A001": list("12321"), "A002": list("12322")}
    # The file is kept no longer than needed.
    assert bytes(CodeBookImport.objects.get().content) == b""


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        ({"source": " "}, "source"),
        ({"licence_note": ""}, "licence_note"),
        ({"name": ""}, "name"),
        ({"first_code": "A9", "last_code": "A1"}, "last_code"),
        ({"code_format": "B###", "first_code": "A001"}, "first_code"),
    ],
)
def test_facts_that_are_wrong_are_refused_beside_their_field(
    sheet: KeySystemSheet, facts: dict[str, Any], field: str
) -> None:
    with pytest.raises(Refused) as refused:
        begin(sheet, **facts)
    assert refused.value.field == field


def test_a_file_that_is_no_table_is_refused_at_once(sheet: KeySystemSheet) -> None:
    with pytest.raises(Refused) as refused:
        begin(sheet, b"\xfc\xfd")
    assert refused.value.field == "file"
    assert not CodeBookImport.objects.exists()


def test_a_book_with_one_wrong_row_cannot_be_taken_in(sheet: KeySystemSheet) -> None:
    made = begin(sheet, GOOD + b"A003,13131\n")
    check_code_book(made)
    assert made.findings["wrong"] == 1
    with pytest.raises(Refused, match="Nothing has been taken in"):
        take_in_code_book(made, actor=owner())


def test_a_system_changed_between_check_and_taking_in_leaves_nothing_half_done(sheet: KeySystemSheet) -> None:
    made = begin(sheet)
    check_code_book(made)
    take_in_code_book(made, actor=owner())
    narrower = KeySystem.from_json({**SYSTEM.to_json(), "rules": [{"rule": "forbidden_last", "labels": ["2"]}]})
    change_key_system(sheet, actor=owner(), system=narrower)
    work_on_code_book(made.pk)
    made = CodeBookImport.objects.get()
    assert (made.state, made.book) == ("refused", None)
    assert made.words.startswith("Line 3:")
    assert not CodeRow.objects.exists()
    assert not CodeBook.objects.exists()


def test_a_new_edition_takes_the_place_of_the_old_one(sheet: KeySystemSheet) -> None:
    old = take_in(sheet)
    look_up("A001", actor=office(), reason="before")
    new = take_in(sheet, b"code,bitting\nA001,33321\n", replaces=old)
    assert new == old
    assert [(row.code, row.labels) for row in CodeRow.objects.all()] == [("A001", list("33321"))]
    assert CodeBookLook.objects.filter(book=new).count() == 1


def test_a_name_that_is_taken_is_refused(sheet: KeySystemSheet) -> None:
    take_in(sheet)
    with pytest.raises(Refused) as refused:
        begin(sheet, name="a SERIES")
    assert refused.value.field == "name"


def test_a_step_done_twice_is_done_once(sheet: KeySystemSheet) -> None:
    book = take_in(sheet)
    made = CodeBookImport.objects.get()
    work_on_code_book(made.pk)
    take_in_code_book(made, actor=owner())
    assert CodeRow.objects.filter(book=book).count() == 2


def test_work_nobody_was_heard_of_is_carried_on_by_a_worker(worker: None, eventually: Callable[..., object]) -> None:
    made = begin(add_key_system(actor=owner(), system=SYSTEM))
    # As a worker leaves it that was killed in the middle, its task lost with it.
    silent = {"state": "running", "percent": 40, "findings": {}, "heard_at": timezone.now() - timedelta(minutes=2)}
    eventually(lambda: CodeBookImport.objects.get(pk=made.pk).state == "done")
    CodeBookImport.objects.filter(pk=made.pk).update(**silent)
    carry_on()
    eventually(lambda: CodeBookImport.objects.get(pk=made.pk).state == "done")
    assert CodeBookImport.objects.get(pk=made.pk).findings["good"] == 2


def test_files_never_taken_in_are_forgotten_after_a_week(sheet: KeySystemSheet) -> None:
    made = begin(sheet)
    check_code_book(made)
    assert clear_old_files() == 0
    CodeBookImport.objects.update(heard_at=timezone.now() - timedelta(days=8))
    assert clear_old_files() == 1


def test_labels_and_cuts_stay_while_a_book_rests_on_them(sheet: KeySystemSheet) -> None:
    take_in(sheet)
    other = KeySystem.from_json({**SYSTEM.to_json(), "root_depths_mm": [["1", "8"], ["2", "7.5"]]})
    with pytest.raises(Refused, match="Copy the key system"):
        change_key_system(sheet, actor=owner(), system=other)
    mended = KeySystem.from_json({**SYSTEM.to_json(), "root_depths_mm": [["1", "8.1"], ["2", "7.6"], ["3", "7"]]})
    assert change_key_system(sheet, actor=owner(), system=mended).system == mended
    assert copy_key_system(sheet, actor=owner()).name == "Alder, copy"


def test_a_look_is_written_down_with_what_it_found(sheet: KeySystemSheet) -> None:
    book, ines = take_in(sheet), technician(name="Ines")
    (row,) = look_up("a-001", actor=ines, reason="Lost", job_number="1042")
    assert row.labels == list("12321")
    assert look_up("A999", actor=ines, reason="Lost", job_number="1042") == []
    first, second = CodeBookLook.objects.order_by("id")
    assert (first.person, first.book, first.job_number, first.reason, first.found) == (ines, book, "1042", "Lost", 1)
    assert (second.book, second.found) == (None, 0)
    assert first.fingerprint == fingerprint("A001")
    assert "A001" not in first.fingerprint


@pytest.mark.parametrize(("reason", "job_number", "field"), [("", "1042", "reason"), ("Lost", " ", "job_number")])
def test_a_technician_gives_reason_and_job(sheet: KeySystemSheet, reason: str, job_number: str, field: str) -> None:
    take_in(sheet)
    with pytest.raises(Refused) as refused:
        look_up("A001", actor=technician(), reason=reason, job_number=job_number)
    assert refused.value.field == field
    assert not CodeBookLook.objects.exists()


def test_a_check_that_refuses_keeps_the_answer_back(sheet: KeySystemSheet) -> None:
    take_in(sheet)

    def never(actor: Any, job_number: str) -> None:
        raise Refused(f"Job {job_number} has no authority.")

    with pytest.raises(Refused, match="Job 7 has no authority"):
        look_up("A001", actor=owner(), reason="x", job_number="7", check=never)
    with pytest.raises(Refused, match="Job 7 has no authority"):
        look_for_cuts(sheet, [*"1232", None], actor=owner(), reason="x", job_number="7", check=never)


def test_books_out_of_use_are_not_read(sheet: KeySystemSheet) -> None:
    book = take_in(sheet)
    switch_code_book(book, actor=owner(), on=False)
    assert look_up("A001", actor=owner(), reason="x") == []
    assert look_for_cuts(sheet, [*"1232", None], actor=owner(), reason="x") == ([], 0)
    assert bittings_for(sheet, [None] * 5) == set()


def test_codes_deleted_for_good_leave_the_looks(sheet: KeySystemSheet) -> None:
    book = take_in(sheet)
    look_up("A001", actor=owner(), reason="x")
    delete_code_rows(book, actor=owner())
    assert not CodeRow.objects.exists()
    assert CodeBookLook.objects.count() == 1


@pytest.mark.parametrize("sql", ["DELETE FROM vehicles_codebooklook", "UPDATE vehicles_codebooklook SET reason = 'y'"])
def test_looks_are_never_changed_or_deleted(sheet: KeySystemSheet, sql: str) -> None:
    look_up("A001", actor=owner(), reason="x")
    refused = pytest.raises(DatabaseError, match="never changed or deleted")
    with refused, transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql)
    assert CodeBookLook.objects.count() == 1


def test_cuts_of_the_wrong_number_or_all_unknown_are_refused(sheet: KeySystemSheet) -> None:
    for known in ([None] * 5, [*"123"]):
        with pytest.raises(Refused) as refused:
            look_for_cuts(sheet, known, actor=owner(), reason="x")
        assert refused.value.field == "cuts"


class SomeCutsKnown(TestCase):
    """The index's answer is that of going through every row."""

    sheet: KeySystemSheet
    other: KeySystemSheet
    kept: list[tuple[str, Bitting]]

    @classmethod
    def setUpTestData(cls) -> None:
        dice, boss = random.Random(11), owner()
        cls.sheet = add_key_system(actor=boss, system=SYSTEM)
        again = KeySystem.from_json({**SYSTEM.to_json(), "name": "Birch"})
        cls.other = add_key_system(actor=boss, system=again)
        drawn = (tuple(dice.choice("123") for _ in range(5)) for _ in range(600))
        fitting = [bitting for bitting in drawn if not violations(SYSTEM, bitting)]
        cls.kept = [(f"A{number:03d}", bitting) for number, bitting in enumerate(fitting)]
        text = "code,bitting\n" + "".join(f"{code},{''.join(bitting)}\n" for code, bitting in cls.kept)
        for sheet, name in ((cls.sheet, "A"), (cls.other, "B")):
            take_in(sheet, text.encode(), name=name)

    @settings(max_examples=60, deadline=None)
    @given(st.lists(st.none() | st.sampled_from("123"), min_size=5, max_size=5))
    def test_known_cuts_find_what_going_through_all_rows_finds(self, known: list[str | None]) -> None:
        fits = [
            (code, bitting)
            for code, bitting in self.kept
            if all(want in (None, cut) for want, cut in zip(known, bitting, strict=True))
        ]
        assert [(row.code, tuple(row.labels)) for row in codes_for(self.sheet, known).order_by("code")] == fits
        assert bittings_for(self.sheet, known) == {bitting for _, bitting in fits}
        if any(known):
            rows, count = rows_with_cuts(self.sheet, known)
            assert [row.code for row in rows] == [code for code, _ in fits]
            assert count == len(fits)

    @settings(max_examples=40, deadline=None)
    @given(st.lists(st.lists(st.sampled_from("123"), min_size=1, max_size=3, unique=True), min_size=5, max_size=5))
    def test_choices_of_each_cut_find_what_going_through_all_rows_finds(self, choices: list[list[str]]) -> None:
        fits = {b for _, b in self.kept if all(cut in choice for cut, choice in zip(b, choices, strict=True))}
        assert bittings_among(self.sheet, choices) == fits


def test_the_demo_makes_five_systems_with_their_books_the_same_each_time(db: None) -> None:
    made = add_demo_key_systems(owner())
    assert {sheet.system.layout for sheet in made.values()} >= {"one edge", "two mirrored edges", "internal track"}
    assert {sheet.system.unit for sheet in made.values()} == {"mm", "in"}
    for make, sheet in made.items():
        assert min(len(places) for places in sheet.system.locks.values()) < sheet.system.cuts
        found = bittings(sheet.code_books.get())
        assert len(found) == ROWS_OF_A_BOOK
        assert not any(violations(sheet.system, bitting) for bitting in found)
        row = sheet.code_books.get().rows.order_by("code")[16]
        assert tuple(row.labels) == demo_bitting(make, 17)
    assert set(made) == set(MAKERS)
