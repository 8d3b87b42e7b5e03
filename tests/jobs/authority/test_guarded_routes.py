"""Every guarded fact of the person who asked, by every role and every route: who gets what, and when."""

import io
import logging
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse
from PIL import Image

from billing.models import Invoice
from billing.papers.pages import invoice_page, receipt_page
from billing.papers.parties import parties_of
from jobs.actions import choose_rule
from jobs.authority import ship_rules
from jobs.models import AuthorityCheck, Opening, RecordRule
from shop.actions import change_shop
from shop.guarded import Sealed
from shop.guarded.rotation import rotate
from shop.models import Shop
from shop.staff.roles import Role
from tests.cast import once_key, signed_in, technician
from tests.shop.test_routes import ask, guarded_routes, sample
from tests.world import World, asked, make_world

pytestmark = pytest.mark.django_db

# How each fact would look on a page, in a file, a log or a dump.
SECRETS: dict[str, tuple[str, ...]] = {
    "born_on": ("1981-04-17", "17 April 1981"),
    "document_number": ("QX-7719-204-K", "QX7719204K"),
    "signature": ("21,121 83,44", "[21, 121]", "[21,121]"),
}
BORN, NUMBER, SIGNED, PHOTO = "born_on", "document_number", "signature", "photo"
IDENTITY, ORDER = "jobs:identity", "jobs:work_order"
# After each gave a reason: what a role's pages show. Any route that is not named shows nothing, to anybody.
SHOWN: dict[tuple[Role, str], set[str]] = {
    (Role.OWNER, IDENTITY): {BORN, NUMBER},
    (Role.OWNER, ORDER): {BORN, NUMBER, SIGNED},
    (Role.OWNER, "jobs:authority_signature"): {SIGNED},
    (Role.OWNER, "jobs:authority_photo"): {PHOTO},
    (Role.OWNER, "jobs:inspection_request"): {BORN, NUMBER},
    (Role.OWNER, "jobs:inspection_sheet"): {BORN, NUMBER, SIGNED},
    (Role.OWNER, "jobs:inspection_csv"): {BORN, NUMBER},
    (Role.TECHNICIAN, IDENTITY): {BORN, NUMBER},
    (Role.TECHNICIAN, ORDER): {BORN, NUMBER, SIGNED},
    (Role.TECHNICIAN, "jobs:authority_signature"): {SIGNED},
    (Role.TECHNICIAN, "jobs:authority_photo"): {PHOTO},
}


@pytest.fixture
def world(tmp_path: Path, settings: Any) -> World:
    """A job under the one example whose work order shows all three facts."""
    settings.MEDIA_ROOT = tmp_path
    Shop.current()
    ship_rules()
    choose_rule(RecordRule.objects.get(key="california"), actor=None)
    made = make_world()
    # A lock-out of a car asks nothing in California; the making of a key does.
    made.job.kind_of_work = "all_keys_lost"
    made.job.save(update_fields=["kind_of_work"])
    return made


@pytest.fixture
def clients(world: World) -> dict[Role, Callable[[], Client]]:
    people = {Role.OWNER: world.owner, Role.OFFICE: world.office, Role.TECHNICIAN: world.technician}
    return {role: partial(signed_in, someone) for role, someone in people.items()}


def found_in(content: bytes) -> set[str]:
    text = content.decode(errors="replace")
    found = {name for name, looks in SECRETS.items() if any(look in text for look in looks)}
    return found | ({PHOTO} if content[:3] == b"\xff\xd8\xff" or content[:4] == b"\x89PNG" else set())


def walk(world: World, client: Callable[[], Client], method: str) -> Iterator[tuple[str, set[str]]]:
    """Every route with what its answer gives away; the ordinary photo of the job is no guarded one."""
    for name, entry in guarded_routes():
        url = reverse(name, kwargs={each: sample(name, each)(world) for each in entry.pattern.converters})
        answer = ask(client(), method, url)
        content = b"".join(answer.streaming_content) if answer.streaming else answer.content
        found = found_in(content) - ({PHOTO} if name == "jobs:photo" else set())
        yield name, found


@pytest.mark.parametrize("method", ["get", "post"])
@pytest.mark.parametrize("role", list(Role))
def test_before_a_reason_is_given_no_route_shows_anything(
    role: Role, method: str, world: World, clients: dict[Role, Callable[[], Client]], caplog: Any
) -> None:
    with caplog.at_level(logging.DEBUG):
        wrong = {name: found for name, found in walk(world, clients[role], method) if found}
    assert wrong == {}
    assert found_in(caplog.text.encode()) == set()
    assert not Opening.objects.exists()


@pytest.mark.parametrize("role", list(Role))
def test_after_a_reason_each_role_gets_what_the_table_says(
    role: Role, world: World, clients: dict[Role, Callable[[], Client]], caplog: Any
) -> None:
    for name in (IDENTITY, ORDER):
        answer = clients[role]().post(
            reverse(name, args=[world.job.number]), {"reason": "Asked by hand", "form_key": once_key()}
        )
        assert answer.status_code == (403 if role == Role.OFFICE else 302)
    with caplog.at_level(logging.DEBUG):
        shown = {(role, name): found for name, found in walk(world, clients[role], "get") if found}
    assert shown == {key: facts for key, facts in SHOWN.items() if key[0] == role}
    assert found_in(caplog.text.encode()) == set()
    assert Opening.objects.count() == (0 if role == Role.OFFICE else 1)


def test_somebody_elses_opening_and_a_stranger_get_nothing(world: World) -> None:
    signed_in(world.owner).post(reverse(IDENTITY, args=[world.job.number]), {"reason": "Inspection"})
    stranger = technician()
    for name, argument, status in (
        (IDENTITY, world.job.number, 404),
        (ORDER, world.job.number, 404),
        ("jobs:authority_signature", world.check.pk, 404),
        ("jobs:authority_photo", world.paper_photo.pk, 404),
    ):
        answer = signed_in(stranger).get(reverse(name, args=[argument]))
        assert answer.status_code == status
        own = signed_in(world.technician).get(reverse(name, args=[argument]))
        assert found_in(own.content) == set()


def test_the_reason_is_demanded(world: World) -> None:
    answer = signed_in(world.owner).post(reverse(IDENTITY, args=[world.job.number]), {"reason": " "})
    assert answer.status_code == 422 and "Say why you open this." in answer.content.decode()
    assert not Opening.objects.exists()


def test_pages_with_opened_facts_are_kept_by_no_browser(world: World) -> None:
    client = signed_in(world.owner)
    client.post(reverse(IDENTITY, args=[world.job.number]), {"reason": "Inspection"})
    for name, argument in (
        (IDENTITY, world.job.number), (ORDER, world.job.number), ("jobs:authority_signature", world.check.pk),
        ("jobs:authority_photo", world.paper_photo.pk),
    ):  # fmt: skip
        answer = client.get(reverse(name, args=[argument]))
        assert answer.status_code == 200 and "no-store" in answer["Cache-Control"]
    photo = client.get(reverse("jobs:authority_photo", args=[world.paper_photo.pk]))
    assert Image.open(io.BytesIO(photo.content)).size == (8, 8)


def everything_kept(media: Path) -> bytes:
    """Every row of every table as text, and every file."""
    kept = []
    with connection.cursor() as cursor:
        cursor.execute("SELECT tablename FROM pg_tables WHERE schemaname = 'public'")
        for (table,) in cursor.fetchall():
            cursor.execute(f'SELECT t::text FROM "{table}" t')
            kept += [row.encode() for (row,) in cursor.fetchall()]
    kept += [path.read_bytes() for path in media.rglob("*") if path.is_file() and "photos" not in path.parts]
    return b"\n".join(kept)


def test_a_dump_of_tables_and_files_gives_nothing_away(world: World, tmp_path: Path) -> None:
    dump = everything_kept(tmp_path)
    assert b"Ella Holmere" in dump
    for looks in SECRETS.values():
        for look in looks:
            assert look.encode() not in dump
            # As PostgreSQL writes bytes.
            assert look.encode().hex().encode() not in dump
    assert b"IHDR" not in dump and b"gAAAA".hex().encode() in dump


def test_a_newer_key_seals_checks_and_photos_anew_although_their_table_only_grows(world: World, settings: Any) -> None:
    before = AuthorityCheck.objects.get(pk=world.check.pk)
    settings.GUARD_KEYS = f"{'n' * 40},{settings.GUARD_KEYS}"
    assert rotate(lambda *told: None) >= 4
    after = AuthorityCheck.objects.get(pk=world.check.pk)
    assert isinstance(before.born_on, Sealed) and isinstance(after.born_on, Sealed)
    assert before.born_on.token != after.born_on.token
    settings.GUARD_KEYS = "n" * 40
    client = signed_in(world.owner)
    client.post(reverse(IDENTITY, args=[world.job.number]), {"reason": "Inspection"})
    page = client.get(reverse(IDENTITY, args=[world.job.number])).content
    assert found_in(page) == {BORN, NUMBER}
    assert client.get(reverse("jobs:authority_photo", args=[world.paper_photo.pk])).status_code == 200


def test_papers_of_the_money_show_what_maryland_wants_and_nothing_guarded(world: World) -> None:
    """Licence number, price told and price paid (Md. Code, Bus. Reg. 12.5-301 to 303); a driver's licence number is
    on no paper the customer gets (Tex. Bus. & Com. Code on receipts)."""
    change_shop(actor=None, licence_number="LK 77")
    Shop.forget()
    invoice = Invoice.objects.get(pk=world.invoice.pk)
    assert parties_of(invoice)["shop"]["licence_number"] == "LK 77"
    pages = invoice_page(invoice) + receipt_page(world.payment)
    assert found_in(pages.encode()) == set()
    for told in ("Price told", "Price charged", "Paid now", "10.00"):
        assert told in pages


def test_what_is_asked_does_not_print_itself() -> None:
    assert found_in(repr(asked()).encode()) == set()
