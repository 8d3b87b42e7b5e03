"""Places: coordinates read from what people paste, distances, and a rough time to drive."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from math import asin, ceil, cos, radians, sin, sqrt
from urllib.parse import parse_qsl, unquote, urlsplit

from shop.errors import Refused

# Mean radius of the Earth, (2a + b) / 3 of the GRS80 ellipsoid (IUGG).
EARTH_RADIUS_KM = 6371.0088
# Road against straight line: 1.2 by Newell 1980, 1.3 by arXiv 2406.06490; to be calibrated from the shop's drives.
DETOUR = 1.3

_LONGEST_TYPED = 2000
_NUMBER = r"[+-]?[0-9]{1,3}(?:\.[0-9]{0,20})?"
_PAIR_TEXT = rf"({_NUMBER})\s*°?\s*([NS]?)\s*[,;\s]\s*({_NUMBER})\s*°?\s*([EWO]?)"
_PAIR = re.compile(rf"\(?\s*{_PAIR_TEXT}\s*\)?", re.IGNORECASE)
_LINK_PAIR = re.compile(rf"(?:loc:|geo:)?\s*({_NUMBER})\s*,\s*({_NUMBER})(?![0-9.]).*", re.IGNORECASE | re.DOTALL)
_PIN = re.compile(rf"!3d({_NUMBER})!4d({_NUMBER})")
_AT = re.compile(rf"@({_NUMBER}),({_NUMBER})(?![0-9.])")
_MAP_FRAGMENT = re.compile(rf"(?:.*&)?(?:map=)?[0-9.]+/({_NUMBER})/({_NUMBER})(?:[/&].*)?")
_TWO_KEYS = (("mlat", "mlon"), ("lat", "lon"), ("lat", "lng"), ("latitude", "longitude"))
_PAIR_KEYS = ("q", "query", "destination", "daddr", "ll", "center", "cp", "sll")
# RFC 5870 section 3.3.
_GEO_NUMBER = re.compile(r"-?[0-9]+(?:\.[0-9]+)?")
_PARAMETER = re.compile(r"([A-Za-z0-9-]+)(?:=((?:[A-Za-z0-9\[\]:&+$\-_.!~*'()]|%[0-9A-Fa-f]{2})+))?")


class PlaceError(Refused, ValueError):
    """Coordinates that cannot be read; the words are fit to show."""


@dataclass(frozen=True)
class Point:
    """A place on WGS 84: degrees north and east. Raises ``PlaceError`` outside -90..90 and -180..180.

    At a pole the longitude means nothing and is 0; 180 degrees west is 180 east (RFC 5870 section 3.4.4).
    """

    lat: Decimal
    lon: Decimal

    def __post_init__(self) -> None:
        if not self.lat.is_finite() or abs(self.lat) > 90:
            raise PlaceError(f"Latitude {self.lat} is not between -90 and 90.")
        if not self.lon.is_finite() or abs(self.lon) > 180:
            raise PlaceError(f"Longitude {self.lon} is not between -180 and 180.")
        if abs(self.lat) == 90:
            object.__setattr__(self, "lon", Decimal(0))
        elif self.lon == -180:
            object.__setattr__(self, "lon", Decimal(180))

    def at_places(self, places: int = 6) -> "Point":
        """The same place with so many decimals; six are a tenth of a metre."""
        unit = Decimal(1).scaleb(-places)
        return Point(self.lat.quantize(unit), self.lon.quantize(unit))


@dataclass(frozen=True)
class GeoUri:
    """A geo: URI (RFC 5870): a point, altitude and uncertainty in metres if given, further parameters by name.

    Two are equal when they name the same place by section 3.4.4.
    """

    point: Point
    altitude: Decimal | None = None
    uncertainty: Decimal | None = None
    parameters: Mapping[str, str] = field(default_factory=dict)


def parse_place(text: str) -> Point:
    """Read a geo: URI, a pair of degrees ("lat, lon"), or a link to a map that has coordinates in it.

    Raises ``PlaceError`` saying what is wrong or what to paste instead.
    """
    typed = text.strip()
    if not typed or len(typed) > _LONGEST_TYPED:
        raise PlaceError("Type coordinates, or paste a map link.")
    if typed[:4].lower() == "geo:":
        return _point_of_shared_geo(typed)
    if pair := _PAIR.fullmatch(typed):
        return _point_of_pair(*pair.groups())
    if "/" in typed or "?" in typed:
        return _point_of_link(typed)
    raise PlaceError("Those are no coordinates: write them like 52.5163, 13.3777.")


def parse_geo_uri(text: str) -> GeoUri:
    """Read a geo: URI by RFC 5870. Raises ``PlaceError`` for a broken one or another reference system than wgs84."""
    scheme, _, rest = text.strip().partition(":")
    coordinates, *parameters = rest.split(";")
    numbers = coordinates.split(",")
    if scheme.lower() != "geo" or len(numbers) not in (2, 3) or not all(map(_GEO_NUMBER.fullmatch, numbers)):
        raise PlaceError("That geo: address is broken: it should look like geo:52.5163,13.3777.")
    named = _named_parameters(parameters)
    system = named.pop("crs", "wgs84")
    if system.lower() != "wgs84":
        raise PlaceError(f"The coordinates use “{system}”; only WGS 84 can be read.")
    uncertainty = named.pop("u", None)
    if uncertainty is not None and not re.fullmatch(r"[0-9]+(?:\.[0-9]+)?", uncertainty):
        raise PlaceError("The uncertainty in that geo: address is not a number.")
    lat, lon, *altitude = map(Decimal, numbers)
    return GeoUri(
        Point(lat, lon),
        altitude[0] if altitude else None,
        None if uncertainty is None else Decimal(uncertainty),
        named,
    )


def geo_uri(point: Point) -> str:
    """The geo: URI of a point (RFC 5870), which phones open in the map the owner prefers."""
    return f"geo:{_plain(point.lat)},{_plain(point.lon)}"


def distance_km(a: Point, b: Point) -> float:
    """Great-circle distance in km by the haversine formula; within 0.6 % of the distance on the ellipsoid."""
    lat_a, lat_b = radians(a.lat), radians(b.lat)
    half_lat, half_lon = (lat_b - lat_a) / 2, radians(float(b.lon) - float(a.lon)) / 2
    chord = sin(half_lat) ** 2 + cos(lat_a) * cos(lat_b) * sin(half_lon) ** 2
    return 2 * EARTH_RADIUS_KM * asin(min(1.0, sqrt(chord)))


def road_km(a: Point, b: Point, *, detour: float = DETOUR) -> Decimal:
    """Likely distance by road in km, to a tenth: great circle times ``detour``."""
    return Decimal(distance_km(a, b) * detour).quantize(Decimal("0.1"))


def drive_minutes(a: Point, b: Point, *, speed_kmh: float, detour: float = DETOUR) -> int:
    """Likely minutes to drive at ``speed_kmh`` on average, rounded up. Raises ``PlaceError`` for a speed of nothing."""
    if speed_kmh <= 0 or detour < 1:
        raise PlaceError("The speed must be above nothing and the detour not below 1.")
    return ceil(distance_km(a, b) * detour / speed_kmh * 60)


def _named_parameters(parameters: Iterable[str]) -> dict[str, str]:
    named: dict[str, str] = {}
    for position, parameter in enumerate(parameters):
        match = _PARAMETER.fullmatch(parameter)
        name = match[1].lower() if match else ""
        # crs comes first and u next; the grammar allows them nowhere else.
        misplaced = (name == "crs" and position) or (name == "u" and position > (1 if "crs" in named else 0))
        if not match or name in named or misplaced:
            raise PlaceError("The parameters of that geo: address are broken.")
        named[name] = unquote(match[2] or "")
    return named


def _point_of_shared_geo(typed: str) -> Point:
    """Phones share a place as "geo:lat,lon?z=15", or as "geo:0,0?q=lat,lon(name)"; the RFC itself knows no query."""
    uri, _, query = typed.partition("?")
    point = parse_geo_uri(uri).point
    if found := _from_pair_keys(_query(query)):
        return Point(Decimal(found[0]), Decimal(found[1]))
    if query and not point.lat and not point.lon:
        raise PlaceError("That geo: address holds a name and no coordinates.")
    return point


def _query(text: str) -> dict[str, str]:
    return {name.lower(): value for name, value in parse_qsl(text)}


def _point_of_pair(lat: str, north: str, lon: str, east: str) -> Point:
    return Point(_signed(lat, north, "S"), _signed(lon, east, "W"))


def _signed(number: str, letter: str, negative: str) -> Decimal:
    degrees = Decimal(number)
    if letter and number.startswith(("-", "+")):
        raise PlaceError(f"“{number} {letter}” has both a sign and a direction: leave one out.")
    return -degrees if letter.upper() == negative else degrees


def _point_of_link(typed: str) -> Point:
    """The pin of a map link if it names one, else the middle of what it shows."""
    try:
        parts = urlsplit(typed)
    except ValueError:
        raise PlaceError("That link is broken. Paste the coordinates instead.") from None
    query = _query(parts.query)
    path, fragment = unquote(parts.path), unquote(parts.fragment)
    found = (
        _from_keys(query)
        or _groups(_PIN.search(path))
        or _from_pair_keys(query)
        or _groups(_AT.search(path))
        or _groups(_MAP_FRAGMENT.fullmatch(fragment))
    )
    if not found:
        raise PlaceError("No coordinates in that link. Open it and copy the coordinates of the place.")
    return Point(Decimal(found[0]), Decimal(found[1]))


def _groups(match: re.Match[str] | None) -> tuple[str, str] | None:
    return (match[1], match[2]) if match else None


def _from_keys(query: Mapping[str, str]) -> tuple[str, str] | None:
    for lat, lon in _TWO_KEYS:
        pair = query.get(lat, ""), query.get(lon, "")
        if all(re.fullmatch(_NUMBER, number) for number in pair):
            return pair
    return None


def _from_pair_keys(query: Mapping[str, str]) -> tuple[str, str] | None:
    for key in _PAIR_KEYS:
        if found := _groups(_LINK_PAIR.fullmatch(query.get(key, ""))):
            return found
    return None


def _plain(degrees: Decimal) -> str:
    return f"{degrees if degrees else abs(degrees):f}"
