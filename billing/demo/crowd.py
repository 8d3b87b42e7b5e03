"""Customers and their vehicles."""

from decimal import Decimal
from random import Random

from billing.demo import words
from shop.customers.actions import add_address, add_customer
from shop.customers.models import Customer, CustomerKind
from shop.staff.models import Person
from vehicles.actions import add_vehicle
from vehicles.models import Vehicle
from vehicles.vin import read_vin

CUSTOMERS = 80
VEHICLES = 120
VIN_LETTERS = "ABCDEFGHJKLMNPRSTUVWXYZ"


def build_crowd(rng: Random, actor: Person) -> tuple[list[Customer], list[Vehicle]]:
    """80 customers, six of them with an account, and 120 vehicles."""
    customers = [_customer(rng, actor, n) for n in range(CUSTOMERS)]
    owners = [*customers, *(rng.choice(customers[: len(words.ACCOUNTS) + 20]) for _ in range(VEHICLES - CUSTOMERS))]
    return customers, [_vehicle(rng, actor, owner, n) for n, owner in enumerate(owners)]


def _customer(rng: Random, actor: Person, n: int) -> Customer:
    is_account = n < len(words.ACCOUNTS)
    name, contact, terms = words.ACCOUNTS[n] if is_account else (_name(rng, n), "", 0)
    customer = add_customer(
        actor=actor,
        name=name,
        kind=CustomerKind.ACCOUNT if is_account else CustomerKind.PERSON,
        contact_name=contact,
        terms_days=terms,
        phones=[(f"+1902555{101 + n:04d}", "office" if is_account else "mobile")],
        emails=[(f"{name.lower().replace(' ', '.')}@mail.example", "")],
        warning=words.WARNINGS[n % 3] if n % 17 == 9 else "",
    )
    district = rng.choice(list(words.DISTRICTS))
    latitude, longitude = point_in(rng, district)
    add_address(
        customer,
        actor=actor,
        label="yard" if is_account else "home",
        street=f"{rng.randint(1, 90)} {rng.choice(words.STREETS)}",
        town=f"{district}, {words.TOWN}",
        access_notes=rng.choice(words.ACCESS_NOTES),
        latitude=latitude,
        longitude=longitude,
    )
    return customer


def _name(rng: Random, n: int) -> str:
    last = words.LAST_NAMES[n % len(words.LAST_NAMES)]
    return f"{words.FIRST_NAMES[(n * 7 + n // 23) % len(words.FIRST_NAMES)]} {last}"


def point_in(rng: Random, district: str) -> tuple[Decimal, Decimal]:
    """A point somewhere in a district of the town."""
    north, east = words.DISTRICTS[district]
    latitude = float(words.SHOP_POINT[0]) + north + rng.gauss(0, 0.004)
    longitude = float(words.SHOP_POINT[1]) + east + rng.gauss(0, 0.006)
    return Decimal(f"{latitude:.6f}"), Decimal(f"{longitude:.6f}")


def _vehicle(rng: Random, actor: Person, owner: Customer, n: int) -> Vehicle:
    make = rng.choice(list(words.VEHICLES))
    year = rng.randint(2006, 2025)
    has_vin = rng.random() < 0.8
    return add_vehicle(
        actor=actor,
        customer=owner,
        plate=f"{rng.choice(VIN_LETTERS)}{rng.choice(VIN_LETTERS)}{rng.choice(VIN_LETTERS)} {rng.randint(100, 999)}",
        vin=make_vin(rng, make, year, n) if has_vin else "",
        year=year,
        make=make,
        model=rng.choice(words.VEHICLES[make]),
        colour=rng.choice(words.COLOURS),
    )


def make_vin(rng: Random, make: str, year: int, n: int) -> str:
    """A well-formed VIN of no real maker: "9" in position 3 and letters of the invented make after it."""
    codes = "ABCDEFGHJKLMNPRSTVWXY123456789"
    body = rng.choice(VIN_LETTERS) if year >= 2010 else str(rng.randint(1, 9))
    spelt = make.upper().translate(str.maketrans("OIQ", "XXX"))
    front = f"2Z9{spelt[:2]}{rng.randint(1, 9)}{body}{rng.randint(1, 9)}"
    tail = f"{codes[(year - 1980) % 30]}P{spelt[-1]}H{n:04d}"
    return f"{front}{read_vin(f'{front}0{tail}').expected_check_digit}{tail}"
