"""What the tests of prices and calls stand on: a shop, a price book, a customer, a job."""

from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

from billing.models import CallOutBand, LabourPrice, PriceBook, TaxRate
from jobs import actions as jobs
from jobs.models import Job
from jobs.states import KindOfWork
from shop.actions import change_shop
from shop.customers import actions as customers
from shop.customers.models import Customer
from shop.models import Shop
from shop.stock.models import Item, ItemKind

# Tuesday noon and night in the shop's zone (UTC in these tests).
NOON = datetime.fromisoformat("2026-03-03T12:00:00+00:00")
NIGHT = datetime.fromisoformat("2026-03-03T23:30:00+00:00")
# One degree of latitude is 111.19 km on the mean sphere (6371.0088 km, IUGG); with the detour of 1.3, 144.6 km by road.
SHOP_AT = {"latitude": Decimal("40.000000"), "longitude": Decimal("-75.000000")}


def shop(**facts: Any) -> Shop:
    """The shop, with coordinates and a country whose numbers can be typed in the national form."""
    Shop.forget()
    change_shop(actor=None, **{"country": "US", "currency": "USD", "time_zone": "UTC", **SHOP_AT, **facts})
    Shop.forget()
    return Shop.current()


def price_book(**facts: Any) -> None:
    """Three bands, labour of two kinds, a surcharge at night, and a tax on parts and on labour."""
    for km, price in ((10, "45.00"), (25, "65.00"), (60, "110.00")):
        CallOutBand.objects.create(up_to_km=Decimal(km), price=Decimal(price))
    LabourPrice.objects.create(kind_of_work=KindOfWork.LOCK_OUT, price=Decimal("80.00"), minutes=30)
    LabourPrice.objects.create(kind_of_work=KindOfWork.ALL_KEYS_LOST, price=Decimal("190.00"), minutes=90)
    usual = {"after_hours_price": Decimal("60.00"), "after_hours_from": time(18), "after_hours_until": time(8)}
    PriceBook.objects.create(id=PriceBook.SINGLE_ID, **{**usual, **facts})
    TaxRate.objects.create(tax_class="parts", name="Sales tax", percent=Decimal("8.250"), holds_from=date(2020, 1, 1))
    TaxRate.objects.create(tax_class="labour", name="Labour tax", percent=Decimal("5"), holds_from=date(2020, 1, 1))


def item(number: str = "TB-100", **facts: Any) -> Item:
    """An item for sale."""
    usual = {"name": f"Transponder blank {number}", "kind": ItemKind.TRANSPONDER_BLANK, "price": Decimal("42.00")}
    return Item.objects.create(number=number, **{**usual, **facts})


def customer(name: str = "Ada Vermeer", phone: str = "+12015550123", **facts: Any) -> Customer:
    """A customer with a telephone number."""
    return customers.add_customer(actor=None, name=name, phones=[(phone, "")], **facts)


def job(of: Customer | None = None, **facts: Any) -> Job:
    """A waiting job."""
    usual = {"kind_of_work": KindOfWork.LOCK_OUT, "caller_name": "Ada Vermeer", "called_at": NOON}
    return jobs.take_call(actor=None, customer=of or customer(), **{**usual, **facts})
