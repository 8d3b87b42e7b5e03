"""Who is calling: customers found while a number, name, plate or VIN is being typed.

One statement in place of the ORM's four: it runs at every key while the telephone rings. Each way of being known is one
index search that stops after a handful of rows, and the best eight are joined to what the caller's line shows.
"""

import json
import re
from dataclasses import dataclass
from typing import Any

from django.db import connection, transaction

from shop.customers.models import Customer, CustomerPhone
from shop.customers.querysets import digits_of, words_of
from shop.models import Shop
from shop.phones import PhoneError, read_phone
from vehicles.models import Vehicle
from vehicles.plates import search_form

MOST = 8
# Rows looked at in each way of being known: more than are shown, since one customer may be met several times.
LOOKED_AT = 40
SHORTEST_PLATE = 2
SHORTEST_VIN = 4
SHORTEST_LIKENESS = 4
LIKENESS = 0.45


@dataclass(frozen=True)
class Caller:
    """A customer who may be calling.

    `phone` is the number that matched, else the first. `is_guess`: only spelt like what was typed.
    """

    id: int
    name: str
    contact_name: str
    warning: str
    kind: str
    phones: tuple[str, ...]
    phone: str
    vehicles: tuple[dict[str, Any], ...]
    is_guess: bool = False

    @property
    def vehicles_json(self) -> str:
        """The vehicles as a page's script reads them."""
        return json.dumps(self.vehicles, ensure_ascii=False)


def find_callers(text: str, *, most: int = MOST) -> list[Caller]:
    """At most `most` customers known by `text`, the surest first.

    A whole number, plate or VIN comes before the beginning of a name, that before a part of anything. When nothing
    holds the text, names spelt like it are guessed.
    """
    text = " ".join(text.split())
    parts = _parts(text)
    found = _run(parts, text, most) if parts else []
    if parts and not found and len(re.sub(r"[\W\d_]", "", text)) >= SHORTEST_LIKENESS:
        return _guess(text, most)
    return found


def statement(text: str, *, most: int = MOST) -> tuple[str, list[Any]]:
    """The one statement that a search runs first, with its values: what a measurement compares with."""
    return _statement(_parts(" ".join(text.split())), most)


def _guess(text: str, most: int) -> list[Caller]:
    with transaction.atomic(), connection.cursor() as cursor:
        # One wrong letter in a name of eight leaves about this much; the usual 0.6 would find nobody.
        cursor.execute(f"SET LOCAL pg_trgm.word_similarity_threshold = {LIKENESS}")
        return _run([(_LIKENESS, [text, text])], text, most, is_guess=True)


Part = tuple[str, list[Any]]

_CUSTOMER = Customer._meta.db_table
_PHONE = CustomerPhone._meta.db_table
_VEHICLE = Vehicle._meta.db_table
_OF_VEHICLE = f'SELECT customer_id, %s::int FROM "{_VEHICLE}" WHERE customer_id IS NOT NULL AND '
_LIKENESS = (
    f'SELECT id, (1000 * (1 - word_similarity(bittern_fold(%s), name_search)))::int FROM "{_CUSTOMER}" '
    "WHERE bittern_fold(%s) <%% name_search ORDER BY 2"
)


def _parts(text: str) -> list[Part]:
    """The ways in which somebody may be known by this text, each with its rank, the surest lowest."""
    code = search_form(text)
    return [*_by_number(text), *_by_vehicle(code), *_by_name(text)]


def _by_number(text: str) -> list[Part]:
    digits = digits_of(text)
    if not digits:
        return []
    parts: list[Part] = [(f'SELECT customer_id, 3 FROM "{_PHONE}" WHERE number LIKE %s', [f"%{digits}%"])]
    try:
        whole = read_phone(text, region=Shop.current().country).e164
    except PhoneError:
        return parts
    return [(f'SELECT customer_id, 0 FROM "{_PHONE}" WHERE number = %s', [whole]), *parts]


def _by_vehicle(code: str) -> list[Part]:
    parts: list[Part] = []
    if len(code) >= SHORTEST_PLATE:
        parts.append((f"{_OF_VEHICLE} plate_search = %s", [1, code]))
        parts.append((f"{_OF_VEHICLE} plate_search LIKE %s", [4, f"{code}%"]))
    if len(code) >= SHORTEST_VIN:
        parts.append((f"{_OF_VEHICLE} vin <> '' AND vin LIKE %s", [6, f"%{code}%"]))
    return parts


def _by_name(text: str) -> list[Part]:
    words = words_of(text)
    if not words:
        return []
    begins = f'SELECT id, 2 FROM "{_CUSTOMER}" WHERE name_search LIKE bittern_fold(%s) ORDER BY name_search, id'
    tests, values = [], []
    for word in map(_literally, words):
        if len(word) < 3:
            # Shorter than a trigram: the index knows only words that begin with it.
            tests.append("(name_search LIKE bittern_fold(%s) OR name_search LIKE bittern_fold(%s))")
            values += [f"{word}%", f"% {word}%"]
        else:
            tests.append("name_search LIKE bittern_fold(%s)")
            values.append(f"%{word}%")
    parts: list[Part] = [(begins, [f"{_literally(text)}%"])]
    if len(text) > 1:
        parts.append((f'SELECT id, 5 FROM "{_CUSTOMER}" WHERE {" AND ".join(tests)}', values))
    return parts


def _literally(text: str) -> str:
    return re.sub(r"([\\%_])", r"\\\1", text)


def _run(parts: list[Part], text: str, most: int, *, is_guess: bool = False) -> list[Caller]:
    with connection.cursor() as cursor:
        cursor.execute(*_statement(parts, most))
        return [_caller(row, digits_of(text), is_guess) for row in cursor.fetchall()]


def _statement(parts: list[Part], most: int) -> tuple[str, list[Any]]:
    union = " UNION ALL ".join(f"(SELECT * FROM ({sql}) part (id, rank) LIMIT {LOOKED_AT})" for sql, _ in parts)
    values = [value for _, part in parts for value in part]
    return _SHOWN.format(union=union), [*values, most]


_SHOWN = f"""
WITH found AS ({{union}}),
best AS (SELECT id, min(rank) AS rank FROM found GROUP BY id)
SELECT c.id, c.name, c.contact_name, c.warning, c.kind,
  (SELECT array_agg(p.number ORDER BY p.id) FROM "{_PHONE}" p WHERE p.customer_id = c.id),
  (SELECT json_agg(v) FROM (
     SELECT id, plate, year, make, model, vin FROM "{_VEHICLE}" WHERE customer_id = c.id ORDER BY id DESC LIMIT 4) v)
FROM best JOIN "{_CUSTOMER}" c ON c.id = best.id
ORDER BY best.rank, c.name_search, c.id
LIMIT %s
"""


def _caller(row: tuple[Any, ...], digits: str, is_guess: bool) -> Caller:
    pk, name, contact_name, warning, kind, numbers, vehicles = row
    phones = tuple(numbers or ())
    matched = next((number for number in phones if digits and digits in number), "")
    return Caller(
        id=pk,
        name=name,
        contact_name=contact_name,
        warning=warning,
        kind=kind,
        phones=phones,
        phone=matched or next(iter(phones), ""),
        vehicles=tuple({**vehicle, "words": _words(vehicle)} for vehicle in vehicles or ()),
        is_guess=is_guess,
    )


def _words(vehicle: dict[str, Any]) -> str:
    kind = " ".join(str(vehicle[name]) for name in ("year", "make", "model") if vehicle[name])
    return " · ".join(part for part in (kind, vehicle["plate"]) if part) or vehicle["vin"]
