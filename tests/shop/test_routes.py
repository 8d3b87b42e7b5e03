"""Every address of the site, by every role.

A new address needs no line here while its arguments are known below; one with an argument of a new kind needs a sample:
by the argument's name where it means the same everywhere, else by app or by route.
"""

from collections.abc import Callable, Iterator
from typing import Any, ClassVar

from django.db import transaction
from django.test import Client, TestCase
from django.urls import URLPattern, get_resolver, reverse
from django.urls.resolvers import URLResolver

from shop.models import Shop
from shop.staff.models import Person
from shop.staff.roles import Role
from tests.cast import signed_in
from tests.world import World, make_world

# Reached without signing in; static files are served before any address is looked up.
PUBLIC = frozenset({"health", "staff:sign_in", "staff:set_up"})

SAMPLES: dict[str, Callable[[World], Any]] = {
    "customer_id": lambda world: world.customer.pk,
    "day": lambda world: world.visit.during.lower.date(),
    "export_id": lambda world: world.export.pk,
    "hold_id": lambda world: world.hold.pk,
    "family_id": lambda world: world.family.pk,
    "invoice_id": lambda world: world.invoice.pk,
    "item_id": lambda world: world.item.pk,
    "kept": lambda world: "no:signed:word",
    "number": lambda world: world.job.number,
    "part_id": lambda world: world.part.pk,
    "payment_id": lambda world: world.payment.pk,
    "photo_id": lambda world: world.photo.pk,
    "request_id": lambda world: world.inspection_request.pk,
    "procedure_id": lambda world: world.procedure.pk,
    "run_id": lambda world: world.run.pk,
    "variant_id": lambda world: world.variant.pk,
    "vehicle_id": lambda world: world.vehicle.pk,
    "version_id": lambda world: world.version.pk,
    "visit_id": lambda world: world.visit.pk,
    "check_id": lambda world: world.check.pk,
    "paper_id": lambda world: world.paper_photo.pk,
    "rule_id": lambda world: world.rule.pk,
    "billing:*key": lambda world: world.draft.key,
    "customers:*pk": lambda world: world.customer.pk,
    "staff:*pk": lambda world: world.technician.pk,
    "stock:*pk": lambda world: world.item.pk,
    "vehicles:*pk": lambda world: world.key_system.pk,
    "billing:accept_price pk": lambda world: world.quotation.pk,
    "billing:remove_tax_rate pk": lambda world: world.tax_rate.pk,
    "customers:change_address pk": lambda world: world.address.pk,
    "customers:remove_address pk": lambda world: world.address.pk,
    "staff:remove_day_off pk": lambda world: world.day_off.pk,
    "stock:change_place pk": lambda world: world.van.pk,
    "stock:change_supplier pk": lambda world: world.supplier.pk,
    "jobs:key_earlier pk": lambda world: world.job.pk,
    "jobs:key_system pk": lambda world: world.key_system.pk,
    "vehicles:add pk": lambda world: world.customer.pk,
    "vehicles:change pk": lambda world: world.vehicle.pk,
    "vehicles:code_book pk": lambda world: world.code_book.pk,
    "vehicles:code_book_import pk": lambda world: world.code_book_import.pk,
    "vehicles:code_book_off pk": lambda world: world.code_book.pk,
    "vehicles:code_book_on pk": lambda world: world.code_book.pk,
    "vehicles:customer_panel pk": lambda world: world.customer.pk,
    "vehicles:delete_code_rows pk": lambda world: world.code_book.pk,
    "vehicles:put_aside_code_book pk": lambda world: world.code_book_import.pk,
    "vehicles:show pk": lambda world: world.vehicle.pk,
    "vehicles:take_in_code_book pk": lambda world: world.code_book_import.pk,
    "vehicles:trial_plan pk": lambda world: world.trial_plan.pk,
}

# Shown, done and sent on, not yet made, a word that nobody signed, the wrong method, refused in words.
ANSWERS = frozenset({200, 202, 204, 302, 400, 405, 409, 422})
METHODS = ("get", "post")
# Views whose page more roles may read than may change.
SHOWN_BUT_NOT_CHANGED = frozenset({("billing:price_book", "post", Role.OFFICE)})
# Routes on which these roles see only rows of their own, and the sample is the owner's.
OTHERS_ROWS = {"vehicles:trial_plan": {Role.OFFICE, Role.TECHNICIAN}}
Route = tuple[str, URLPattern]


def routes(resolver: URLResolver | None = None, space: str = "") -> Iterator[Route]:
    """Every route with its full name."""
    for entry in (resolver or get_resolver()).url_patterns:
        if isinstance(entry, URLResolver):
            yield from routes(entry, f"{space}{entry.namespace}:" if entry.namespace else space)
        else:
            yield f"{space}{entry.name}", entry


def sample(name: str, argument: str) -> Callable[[World], Any]:
    app = name.rpartition(":")[0]
    for key in (f"{name} {argument}", f"{app}:*{argument}", argument):
        if key in SAMPLES:
            return SAMPLES[key]
    raise AssertionError(f"{name} takes {argument}: add a sample of it to SAMPLES in {__name__}.")


def allowed(entry: URLPattern) -> frozenset[Role]:
    return getattr(entry.callback, "allowed_roles", frozenset())


def test_every_view_declares_who_may_open_it() -> None:
    undeclared = [name for name, entry in routes() if not allowed(entry) and name not in PUBLIC]
    assert not undeclared, f"Decorate with shop.staff.access: {undeclared}"


def test_only_the_public_list_is_open_to_strangers() -> None:
    is_open = {name for name, entry in routes() if not getattr(entry.callback, "login_required", True)}
    assert is_open == PUBLIC


def test_every_route_has_a_name_and_a_sample_of_each_argument() -> None:
    for name, entry in routes():
        assert not name.endswith("None"), entry.pattern
        for argument in entry.pattern.converters:
            assert callable(sample(name, argument))


class EveryRouteByEveryRole(TestCase):
    world: ClassVar[World]
    people: ClassVar[dict[Role, Person]]

    @classmethod
    def setUpTestData(cls) -> None:
        Shop.current()
        cls.world = make_world()
        cls.people = {
            Role.OWNER: cls.world.owner,
            Role.OFFICE: cls.world.office,
            Role.TECHNICIAN: cls.world.technician,
        }

    def url(self, name: str, entry: URLPattern) -> str:
        return reverse(name, kwargs={each: sample(name, each)(self.world) for each in entry.pattern.converters})

    def test_strangers_are_sent_to_sign_in(self) -> None:
        wrong = []
        for name, entry in guarded_routes():
            for method in METHODS:
                answer = ask(Client(), method, self.url(name, entry))
                if answer.status_code != 302 or not answer["Location"].startswith(reverse("staff:sign_in")):
                    wrong.append(f"{method} {name}: {answer.status_code}")
        assert not wrong, "\n".join(wrong)

    def test_each_role_opens_its_own_pages_and_no_others(self) -> None:
        wrong, opened = [], dict.fromkeys(Role, 0)
        for role, someone in self.people.items():
            cookies = signed_in(someone).cookies.output(header="", sep=";")
            for name, entry in guarded_routes():
                for method in METHODS:
                    # A browser of its own each time: signing out is one of the routes.
                    client = Client()
                    client.cookies.load(cookies)
                    status = ask(client, method, self.url(name, entry)).status_code
                    opened[role] += status == 200
                    if status not in expected(name, entry, role, method):
                        wrong.append(f"{role} {method} {name}: {status}")
        assert not wrong, "\n".join(wrong)
        # Guards the table against a site that refuses everybody everywhere.
        assert min(opened.values()) > 5


def guarded_routes() -> list[Route]:
    return [(name, entry) for name, entry in routes() if name not in PUBLIC]


def ask(client: Client, method: str, url: str) -> Any:
    """The answer to one request without a body, whose writes are undone so that the next finds the same rows."""
    client.raise_request_exception = False
    with transaction.atomic():
        answer = getattr(client, method)(url)
        if answer.streaming:
            # Read to its end, so that the file behind it is closed.
            b"".join(answer.streaming_content)
        transaction.set_rollback(True)
    return answer


def expected(name: str, entry: URLPattern, role: Role, method: str) -> frozenset[int]:
    """A role that may not open a view is refused; for one that may, the row of the sample is there."""
    if role not in allowed(entry) or (name, method, role) in SHOWN_BUT_NOT_CHANGED:
        return frozenset({403, 405})
    return ANSWERS | ({404} if role in OTHERS_ROWS.get(name, ()) else set())
