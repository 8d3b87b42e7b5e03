"""The invented shop itself: its facts, people, prices, suppliers and stock."""

from dataclasses import dataclass, field
from datetime import datetime, time, timedelta
from decimal import Decimal
from random import Random

from billing.demo import words
from billing.models import CallOutBand, LabourPrice, PriceBook, TaxRate
from jobs.states import KindOfWork
from shop.actions import change_shop
from shop.staff.actions import add_person, set_week
from shop.staff.models import Person
from shop.staff.roles import Role
from shop.stock.actions import move, receive
from shop.stock.models import Item, ItemKind, Place, PlaceKind, Supplier

PASSWORD = "port-hallow-demo"

OWNER = ("Marta Lindqvist-Rowe", "owner@porthallow.example")
OFFICE = [("Agnes Tolliver", "agnes@porthallow.example"), ("Ruben Castellane", "ruben@porthallow.example")]
TECHNICIANS = [
    ("Jonas Brackwater", "jonas@porthallow.example", "34.50"),
    ("Sadie Pemberley-Oak", "sadie@porthallow.example", "31.00"),
    ("Tomasz Underhay", "tomasz@porthallow.example", "29.50"),
    ("Priya Saltmarsh", "priya@porthallow.example", "27.00"),
]

# number, name, kind, price, cost, supplier
ITEMS = [
    ("B-101", "Plain blank, five cut", ItemKind.BLANK, "9.50", "1.15", 0),
    ("B-102", "Plain blank, eight cut", ItemKind.BLANK, "9.50", "1.30", 0),
    ("B-120", "Plain blank, inside track", ItemKind.BLANK, "14.00", "2.40", 0),
    ("B-201", "House door blank", ItemKind.BLANK, "6.00", "0.55", 0),
    ("T-310", "Transponder blank, Aldren Wren", ItemKind.TRANSPONDER_BLANK, "48.00", "11.80", 1),
    ("T-320", "Transponder blank, Brixo", ItemKind.TRANSPONDER_BLANK, "52.00", "13.25", 1),
    ("T-330", "Transponder blank, Corvane", ItemKind.TRANSPONDER_BLANK, "68.00", "21.40", 1),
    ("T-340", "Transponder blank, Dunmark", ItemKind.TRANSPONDER_BLANK, "58.00", "15.90", 1),
    ("F-410", "Flip fob, three buttons, Aldren", ItemKind.FOB, "119.00", "38.50", 1),
    ("F-430", "Slot fob, Corvane 500", ItemKind.FOB, "229.00", "94.00", 2),
    ("F-450", "Keyless fob, Elvara", ItemKind.FOB, "285.00", "127.00", 2),
    ("R-510", "Gate and garage remote", ItemKind.REMOTE, "45.00", "14.00", 2),
    ("C-032", "Cell, 3 volt, 20 by 3.2 mm", ItemKind.CELL, "6.00", "0.70", 0),
    ("L-610", "Door cylinder, 60 mm", ItemKind.LOCK_PART, "42.00", "16.20", 0),
    ("L-620", "Ignition lock, Brixo", ItemKind.LOCK_PART, "139.00", "61.00", 2),
    ("L-630", "Pin set for rekeying", ItemKind.LOCK_PART, "12.00", "2.10", 0),
    ("S-700", "Lock spray, graphite", ItemKind.CONSUMABLE, "8.00", "3.10", 0),
]

SUPPLIERS = [("Quayside Key Supply", 3), ("Northbank Transponders", 7), ("Fennel and Daughter, fobs", 12)]

LABOUR = {
    KindOfWork.LOCK_OUT: ("75.00", 30),
    KindOfWork.DUPLICATE_KEY: ("55.00", 35),
    KindOfWork.ALL_KEYS_LOST: ("165.00", 80),
    KindOfWork.PROGRAMMING: ("90.00", 45),
    KindOfWork.BROKEN_KEY: ("85.00", 40),
    KindOfWork.IGNITION_LOCK: ("140.00", 90),
    KindOfWork.DOOR_LOCK: ("80.00", 50),
    KindOfWork.REKEY: ("70.00", 55),
    KindOfWork.OTHER: ("70.00", 45),
}

CALL_OUT = [("5", "35.00"), ("12", "48.00"), ("25", "69.00"), ("60", "110.00")]


@dataclass
class Cast:
    """Everybody and everything that the story needs by name."""

    now: datetime
    owner: Person
    office: list[Person] = field(default_factory=list)
    technicians: list[Person] = field(default_factory=list)
    vans: dict[int, Place] = field(default_factory=dict)
    shelf: Place | None = None
    items: dict[str, Item] = field(default_factory=dict)


def build_shop(rng: Random, now: datetime) -> Cast:
    """The shop, its people, price book and stock as they stood 95 days ago."""
    cast = _people(now)
    _facts(cast.owner)
    _prices()
    _stock(rng, cast, now - timedelta(days=95))
    return cast


def _facts(owner: Person) -> None:
    latitude, longitude = words.SHOP_POINT
    change_shop(
        actor=owner,
        name="Port Hallow Lock and Key",
        licence_number="PH-LK 0417",
        street="12 Ropewalk",
        town=words.TOWN,
        postcode="P7H 2K4",
        country="CA",
        phone="+19025550100",
        email="office@porthallow.example",
        tax_number="900 117 042",
        latitude=latitude,
        longitude=longitude,
        time_zone="America/Halifax",
        currency="CAD",
        paper_size="Letter",
        payment_terms_days=0,
        invoice_words="Keys are guaranteed for ninety days. Please quote the invoice number when you pay.",
        emergency_number="911",
        card_fee_percent=Decimal("1.90"),
    )


def _people(now: datetime) -> Cast:
    name, email = OWNER
    owner = add_person(actor=None, name=name, email=email, password=PASSWORD, roles=[Role.OWNER])
    cast = Cast(now=now, owner=owner)
    for name, email in OFFICE:
        cast.office.append(add_person(actor=owner, name=name, email=email, password=PASSWORD, roles=[Role.OFFICE]))
    for n, (name, email, cost) in enumerate(TECHNICIANS):
        person = add_person(
            actor=owner,
            name=name,
            email=email,
            password=PASSWORD,
            roles=[Role.TECHNICIAN],
            hourly_cost=Decimal(cost),
            licence_number=f"PH-T {310 + n}",
        )
        late = n == 3
        hours = (time(11, 0), time(20, 0)) if late else (time(7, 30), time(17, 0))
        set_week(person, actor=owner, shifts=dict.fromkeys(range(7) if late else range(6), hours))
        cast.technicians.append(person)
    return cast


def _prices() -> None:
    for km, price in CALL_OUT:
        CallOutBand.objects.create(up_to_km=Decimal(km), price=Decimal(price))
    for kind, (price, minutes) in LABOUR.items():
        LabourPrice.objects.create(kind_of_work=kind, price=Decimal(price), minutes=minutes)
    for tax_class in ("labour", "parts"):
        TaxRate.objects.create(tax_class=tax_class, name="Sales tax", percent=Decimal("14"))
    PriceBook.objects.update_or_create(id=PriceBook.SINGLE_ID, defaults={"after_hours_price": Decimal("60.00")})


def _stock(rng: Random, cast: Cast, at: datetime) -> None:
    suppliers = [Supplier.objects.create(name=name, lead_days=days) for name, days in SUPPLIERS]
    cast.shelf = Place.objects.create(name="Shelf", kind=PlaceKind.SHELF)
    for n, person in enumerate(cast.technicians, start=1):
        cast.vans[person.pk] = Place.objects.create(name=f"Van {n}", kind=PlaceKind.VAN, driver=person)
    for number, name, kind, price, cost, supplier in ITEMS:
        item = Item.objects.create(
            number=number, name=name, kind=kind, price=Decimal(price), supplier=suppliers[supplier]
        )
        cast.items[number] = item
        each = 2 if Decimal(cost) > 30 else 8
        receive(item, actor=cast.owner, place=cast.shelf, quantity=each * 6, unit_cost=Decimal(cost), at=at)
        for van in cast.vans.values():
            move(item, actor=cast.owner, origin=cast.shelf, target=van, quantity=each, at=at + timedelta(hours=2))
