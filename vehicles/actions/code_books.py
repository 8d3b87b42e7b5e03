"""Code books on their way in: checked whole, then taken in whole or not at all."""

from collections.abc import Mapping
from datetime import timedelta
from typing import Any

from django.db import IntegrityError, connection, transaction
from django.utils import timezone

from shop.errors import Refused
from shop.staff.models import Person
from vehicles.code_table import BookFacts, BookReader, Findings, check_book, plain_code
from vehicles.code_tokens import Tokens
from vehicles.csv_text import BadFile
from vehicles.long_work import Teller, begin, give_up
from vehicles.models import CodeBook, CodeBookImport, CodeRow, KeySystemSheet
from vehicles.sending import WORK_ON_CODE_BOOK, send

_FACTS = ("name", "code_format", "first_code", "last_code", "source", "licence_note")
LARGEST_FILE = 64 * 1024 * 1024
KEPT_FOR = timedelta(days=7)


@transaction.atomic
def begin_code_book(
    *,
    actor: Person,
    key_system: KeySystemSheet,
    content: bytes,
    file_name: str,
    facts: Mapping[str, str],
    replaces: CodeBook | None = None,
) -> CodeBookImport:
    """Puts a file in line to be checked. `replaces` is the book whose rows it will take the place of.

    Raises Refused for facts that are wrong, and at once for a file that is no table of codes.
    """
    kept = {name: facts.get(name, "").strip() for name in _FACTS}
    kept |= {name: plain_code(kept[name]) for name in ("first_code", "last_code")}
    kept["code_format"] = kept["code_format"].replace(" ", "").replace("-", "").upper()
    _check_facts(kept, replaces)
    if len(content) > LARGEST_FILE:
        raise Refused("The file is larger than 64 MB. Split the book into series.", field="file")
    try:
        BookReader(content, key_system.system, BookFacts())
    except BadFile as error:
        raise Refused(str(error), field="file") from None
    made = CodeBookImport.objects.create(
        person=actor,
        key_system=key_system,
        facts=kept | {"replaces": replaces.pk if replaces else None},
        file_name=file_name[:200],
        content=content,
    )
    send(WORK_ON_CODE_BOOK, made.pk)
    return made


def _check_facts(facts: Mapping[str, str], replaces: CodeBook | None) -> None:
    for field, words in (
        ("name", "Give the book a name."),
        ("source", "Say where the table comes from."),
        ("licence_note", "Say what allows the shop to use this table."),
    ):
        if not facts[field]:
            raise Refused(words, field=field)
    first, last = facts["first_code"], facts["last_code"]
    if first and last and (len(first), first) > (len(last), last):
        raise Refused("The last code comes before the first.", field="last_code")
    for field in ("first_code", "last_code"):
        fault = facts[field] and BookFacts(facts["code_format"]).fault(facts[field])
        if fault:
            raise Refused(str(fault), field=field)
    named = CodeBook.objects.filter(name__iexact=facts["name"])
    if (named.exclude(pk=replaces.pk) if replaces else named).exists():
        raise Refused(f"There is already a code book called {facts['name']}.", field="name")


@transaction.atomic
def take_in_code_book(made: CodeBookImport, *, actor: Person) -> CodeBookImport:
    """Puts a checked file in line to be taken in. Raises Refused while it is being checked or has wrong rows."""
    made = CodeBookImport.objects.select_for_update().get(pk=made.pk)
    if made.step == CodeBookImport.Step.TAKE:
        return made
    if made.state != CodeBookImport.State.DONE:
        raise Refused("The file is still being checked.")
    if made.findings["wrong"] or not made.findings["good"]:
        raise Refused("Mend the wrong rows in the file and choose it again. Nothing has been taken in.")
    made.step, made.state, made.percent, made.person = CodeBookImport.Step.TAKE, CodeBookImport.State.WAITING, 0, actor
    made.heard_at = timezone.now()
    made.save(update_fields=["step", "state", "percent", "person", "heard_at"])
    send(WORK_ON_CODE_BOOK, made.pk)
    return made


@transaction.atomic
def put_aside_code_book(made: CodeBookImport, *, actor: Person) -> None:
    """Forgets a file that was not taken in."""
    CodeBookImport.objects.filter(pk=made.pk, book=None).delete()


def check_code_book(made: CodeBookImport) -> None:
    """The worker's first step: every row checked, nothing kept but the findings."""
    begin(made)
    with Teller(made) as teller:
        try:
            found = check_book(bytes(made.content), made.key_system.system, _facts(made), teller.part(0, 100))
        except BadFile as error:
            give_up(made, str(error))
            return
    made.state, made.percent, made.findings, made.heard_at = "done", 100, _as_json(found), timezone.now()
    made.save(update_fields=["state", "percent", "findings", "heard_at"])


def _facts(made: CodeBookImport) -> BookFacts:
    return BookFacts(made.facts["code_format"], made.facts["first_code"], made.facts["last_code"])


def _as_json(found: Findings) -> dict[str, Any]:
    return {
        "good": found.good,
        "repeated": found.repeated,
        "wrong": found.wrong,
        "faults": found.faults,
        "rows": [[code, list(bitting)] for code, bitting in found.rows],
        "first": found.first,
        "last": found.last,
        "words": found.words,
    }


def store_code_book(made: CodeBookImport) -> None:
    """The worker's second step: the whole book in one transaction, by COPY; with a wrong row, nothing of it."""
    begin(made)
    with Teller(made) as teller, transaction.atomic():
        reader = BookReader(bytes(made.content), made.key_system.system, _facts(made))
        book = _book(made)
        _copy(book, made.key_system, reader, teller)
        if reader.findings.wrong:
            line, words = reader.findings.faults[0]
            raise Refused(f"Line {line}: {words}")
        CodeBook.objects.filter(pk=book.pk).update(row_count=reader.findings.good)
        made.state, made.percent, made.book, made.content = made.State.DONE, 100, book, b""
        made.heard_at = timezone.now()
        made.save(update_fields=["state", "percent", "book", "content", "heard_at"])


def _book(made: CodeBookImport) -> CodeBook:
    facts = {name: made.facts[name] for name in _FACTS}
    facts |= {"key_system": made.key_system, "imported_at": timezone.now(), "imported_by": made.person}
    if not made.facts["replaces"]:
        try:
            with transaction.atomic():
                return CodeBook.objects.create(**facts)
        except IntegrityError:
            raise Refused(f"There is already a code book called {facts['name']}.", field="name") from None
    book: CodeBook = CodeBook.objects.select_for_update().get(pk=made.facts["replaces"])
    book.rows.all()._raw_delete(using="default")
    for name, value in facts.items():
        setattr(book, name, value)
    book.save(update_fields=list(facts))
    return book


def _copy(book: CodeBook, sheet: KeySystemSheet, reader: BookReader, teller: Teller) -> None:
    table = connection.ops.quote_name(CodeRow._meta.db_table)
    tokens = Tokens(sheet.pk, sheet.system)
    with (
        connection.cursor() as cursor,
        cursor.copy(f"COPY {table} (book_id, code, labels, tokens) FROM STDIN") as copy,
    ):
        for code, bitting in reader.good_rows(teller.part(0, 98)):
            copy.write_row((book.pk, code, list(bitting), tokens.of_row(bitting)))
    with connection.cursor() as cursor:
        # The index gathers what is new and takes it in at once here, which is twice as fast as row by row.
        cursor.execute("SET LOCAL maintenance_work_mem = '128MB'")
        cursor.execute("SELECT gin_clean_pending_list('code_row_tokens')")


@transaction.atomic
def switch_code_book(book: CodeBook, *, actor: Person, on: bool) -> CodeBook:
    """Takes a code book into use, or out of use, for instance when its licence has ended."""
    book.is_active = on
    book.save(update_fields=["is_active"])
    return book


@transaction.atomic
def delete_code_rows(book: CodeBook, *, actor: Person) -> CodeBook:
    """Deletes a book's codes for good, as a licence may demand when it ends. The book's facts and looks stay."""
    book = CodeBook.objects.select_for_update().get(pk=book.pk)
    book.rows.all()._raw_delete(using="default")
    book.row_count, book.is_active = 0, False
    book.save(update_fields=["row_count", "is_active"])
    return book


def clear_old_files() -> int:
    """Forgets files that were checked or refused a week ago and never taken in; returns how many."""
    old = CodeBookImport.objects.filter(book=None, heard_at__lt=timezone.now() - KEPT_FOR)
    return int(old.exclude(state__in=("waiting", "running")).delete()[0])
