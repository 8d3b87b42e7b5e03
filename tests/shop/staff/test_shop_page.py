from datetime import time
from decimal import Decimal

import pytest
from django.db.models import Field
from django.test import Client

from shop.models import Shop
from shop.staff.forms import ShopForm
from tests.cast import once_key, owner, signed_in

pytestmark = pytest.mark.django_db

FACTS = {
    "name": "Quist Locks",
    "licence_number": "L-1",
    "street": "Mill Lane 14",
    "town": "Brackwater",
    "postcode": "07001",
    "country": "us",
    "phone": "(201) 555-0123",
    "email": "desk@shop.example",
    "place": "geo:40.7128,-74.0060",
    "currency": "USD",
    "tax_number": "T-9",
    "payment_terms_days": "14",
    "tax_rounding_mode": "half_up",
    "tax_rounding_scope": "rate",
    "card_fee_percent": "2.9",
    "travel_cost_per_km": "0.455",
    "guarantee_days": "90",
    "paper_size": "Letter",
    "invoice_words": "Thank you.",
    "time_zone": "America/New_York",
    "day_starts": "06:30",
    "day_ends": "21:00",
    "promise_minutes": "45",
    "drive_speed_kmh": "35",
    "emergency_number": "911",
}


@pytest.fixture
def boss() -> Client:
    Shop.current()
    return signed_in(owner())


def test_every_fact_of_the_shop_can_be_set(boss: Client) -> None:
    stored = {field.name for field in Shop._meta.get_fields() if isinstance(field, Field)} - {"id"}
    assert (stored - {"latitude", "longitude"}) | {"place"} == set(ShopForm.base_fields)
    shown = boss.get("/shop").content.decode()
    for name in ShopForm.base_fields:
        assert f'name="{name}"' in shown


def test_facts_are_read_and_kept(boss: Client) -> None:
    assert boss.post("/shop", {**FACTS, "form_key": once_key()})["Location"] == "/shop"
    kept = Shop.objects.get()
    assert (kept.name, kept.country, kept.phone) == ("Quist Locks", "US", "+12015550123")
    assert (kept.latitude, kept.longitude) == (Decimal("40.712800"), Decimal("-74.006000"))
    assert (kept.day_starts, kept.card_fee_percent) == (time(6, 30), Decimal("2.90"))
    assert 'value="(201) 555-0123"' in boss.get("/shop").content.decode()


def test_phone_is_read_by_the_country_typed_beside_it(boss: Client) -> None:
    # ITU-T E.123 writes the same German number +49 30 901820 from abroad and (030) 901820 at home.
    boss.post("/shop", {**FACTS, "country": "DE", "phone": "(030) 901820"})
    assert Shop.objects.get().phone == "+4930901820"


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("time_zone", "Europe/Nowhere", "no time zone"),
        ("time_zone", "../etc/passwd", "no time zone"),
        ("currency", "XAU", "not one of the available choices"),
        ("currency", "BHD", "not one of the available choices"),
        ("country", "XX", "two letters of a country"),
        ("phone", "12", "too short"),
        ("place", "somewhere", "no coordinates"),
        ("place", "91, 0", "Latitude"),
        ("day_ends", "06:00", "ends before it begins"),
        ("card_fee_percent", "-1", "At least 0."),
        ("promise_minutes", "0", "At least 5."),
        ("emergency_number", "help", "Only digits"),
        ("payment_terms_days", "a month", "whole number"),
    ],
)
def test_what_makes_no_sense_is_refused_beside_the_field(boss: Client, field: str, typed: str, words: str) -> None:
    before = Shop.objects.values().first()
    answer = boss.post("/shop", {**FACTS, field: typed})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert words in page
    assert 'value="Mill Lane 14"' in page
    assert field == "currency" or f'value="{typed}"' in page
    assert Shop.objects.values().first() == before
