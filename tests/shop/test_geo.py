import csv
from decimal import Decimal
from math import ceil
from pathlib import Path

import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st

from shop.geo import PlaceError, Point, distance_km, drive_minutes, geo_uri, parse_geo_uri, parse_place, road_km

D = Decimal


def at(lat: str, lon: str) -> Point:
    return Point(D(lat), D(lon))


points = st.builds(
    Point,
    st.decimals(min_value=-90, max_value=90, places=6),
    st.decimals(min_value=-180, max_value=180, places=6),
)


def test_geo_uris_of_the_standard_are_read() -> None:
    # RFC 5870 sections 1 and 6.
    assert parse_place("geo:13.4125,103.8667") == at("13.4125", "103.8667")
    high = parse_geo_uri("geo:48.2010,16.3695,183")
    assert (high.point, high.altitude, high.uncertainty) == (at("48.2010", "16.3695"), D(183), None)
    unsure = parse_geo_uri("geo:48.198634,16.371648;crs=wgs84;u=40")
    assert (unsure.point, unsure.uncertainty, unsure.parameters) == (at("48.198634", "16.371648"), D(40), {})


def test_geo_uris_that_the_standard_calls_equal_are_equal() -> None:
    # RFC 5870 section 6.4: poles whatever the longitude, names in any case, percent-encoding, numbers by value;
    # section 3.4.4: 180 degrees west is 180 degrees east.
    assert parse_geo_uri("geo:90,-22.43;crs=WGS84") == parse_geo_uri("geo:90,46")
    assert parse_geo_uri("geo:66,30;u=6.500;FOo=this%2dthat") == parse_geo_uri("geo:66.0,30;u=6.5;foo=this-that")
    assert parse_geo_uri("GEO:10,180") == parse_geo_uri("geo:10,-180")
    assert parse_geo_uri("geo:66,30;a=1;b=2") == parse_geo_uri("geo:66,30;b=2;a=1")
    assert parse_geo_uri("geo:47,11;foo=blue") != parse_geo_uri("geo:47,11;foo=red")
    assert parse_geo_uri("geo:47,11,5") != parse_geo_uri("geo:47,11")


@pytest.mark.parametrize(
    "text",
    [
        "geo:",
        "geo:1",
        "geo:1,2,3,4",
        "geo:+1,2",
        "geo:1.,2",
        "geo:1e1,2",
        "geo:1, 2",
        "geo:1,2;",
        "geo:1,2;u=-4",
        "geo:1,2;crs=nad27",
        "geo:1,2;u=4;crs=wgs84",
        "geo:1,2;u=1;u=2",
        "geo:1,2;a=%zz",
        "geo:91,2",
        "geo:1,181",
    ],
)
def test_broken_geo_uris_are_refused(text: str) -> None:
    # RFC 5870 section 3.3, the grammar.
    with pytest.raises(PlaceError):
        parse_place(text)


@pytest.mark.parametrize(
    "text",
    [
        "-37.9510, 144.4248",
        "-37.9510,144.4248",
        "-37.9510 144.4248",
        "-37.9510; 144.4248",
        "(-37.9510, 144.4248)",
        "37.9510° S, 144.4248° E",
        "37.9510S 144.4248E",
        "geo:-37.9510,144.4248?z=15",
        "geo:0,0?q=-37.9510,144.4248(Some+hill)",
        "https://maps.example.org/maps/@-37.9510,144.4248,15z",
        "https://maps.example.org/maps/place/Some+hill/@-37.9,144.4,17z/data=!3m1!4b1!3d-37.9510!4d144.4248",
        "https://maps.example.org/?q=-37.9510,144.4248",
        "https://maps.example.org/?q=loc:-37.9510,144.4248(Some+hill)",
        "https://maps.example.org/search/?api=1&query=-37.9510%2C144.4248",
        "https://maps.example.org/dir/?api=1&destination=-37.9510,144.4248",
        "http://maps.example.org/?ll=-37.9510,144.4248&z=15",
        "https://www.example.org/?mlat=-37.9510&mlon=144.4248#map=15/-37.9/144.4",
        "https://www.example.org/#map=15/-37.9510/144.4248",
        "https://www.example.org/#map=15/-37.9510/144.4248&layers=T",
        "maps.example.org/?q=-37.9510,144.4248",
    ],
)
def test_one_place_is_read_from_what_people_paste(text: str) -> None:
    # The common shapes of shared map links: common practice, no source.
    assert parse_place(text) == at("-37.9510", "144.4248")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "paste a map link"),
        ("12 High Street", "no coordinates"),
        ("52.5", "no coordinates"),
        ("1,2,3", "no coordinates"),
        ("91, 10", "Latitude 91"),
        ("10, 180.5", "Longitude 180.5"),
        ("-10 S, 5 E", "both a sign and a direction"),
        ("geo:0,0?q=12+High+Street", "holds a name"),
        ("https://maps.example.org/abc123", "No coordinates in that link"),
        ("https://maps.example.org/?q=12+High+Street", "No coordinates in that link"),
        ("https://maps.example.org/?q=95,10", "Latitude 95"),
        ("http://[broken/?q=1,2", "broken"),
        ("9" * 3000, "paste a map link"),
    ],
)
def test_what_names_no_place_is_refused_in_plain_words(text: str, words: str) -> None:
    with pytest.raises(PlaceError, match=words):
        parse_place(text)


@given(text=st.text(max_size=60))
def test_any_text_is_either_a_place_or_refused(text: str) -> None:
    for typed in (text, "geo:" + text, "https://maps.example.org/" + text):
        try:
            point = parse_place(typed)
        except PlaceError:
            continue
        assert abs(point.lat) <= 90 and abs(point.lon) <= 180


@given(point=points)
def test_a_point_survives_its_uri_and_the_rounding_of_the_models(point: Point) -> None:
    assert parse_place(geo_uri(point)) == point == point.at_places(6)


def test_geo_uri_is_plain_digits() -> None:
    # RFC 5870 section 3.4.2: no exponent.
    assert geo_uri(at("1E-7", "-0.0")) == "geo:0.0000001,0.0"


def rows() -> list[dict[str, str]]:
    # Geoscience Australia (GDA technical manual), the README of the haversine package 2.9.0, and lines of the
    # geographiclib 2.1 test suite (Karney; CC0), as named in each row.
    with (Path(__file__).parent / "data" / "geodesy.csv").open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("row", rows(), ids=lambda row: row["name"])
def test_distance_agrees_with_published_lines(row: dict[str, str]) -> None:
    # One line of the suite ends beyond the date line, at 197 degrees.
    lon2 = (D(row["lon2"]) + 180) % 360 - 180
    km = distance_km(at(row["lat1"], row["lon1"]), at(row["lat2"], str(lon2)))
    assert km == pytest.approx(float(row["ellipsoid_m"]) / 1000, rel=0.006)
    if row["great_circle_km_R6371.0088"]:
        assert km == pytest.approx(float(row["great_circle_km_R6371.0088"]), abs=1e-5)


@given(a=points, b=points)
def test_distance_is_within_0_6_percent_of_the_ellipsoid(a: Point, b: Point) -> None:
    # geographiclib 2.1 (C. Karney, Algorithms for geodesics, 2013).
    line = Geodesic.WGS84.Inverse(float(a.lat), float(a.lon), float(b.lat), float(b.lon))
    assert distance_km(a, b) == pytest.approx(line["s12"] / 1000, rel=0.006, abs=1e-6)
    assert distance_km(a, b) == pytest.approx(distance_km(b, a))


def test_driving_is_a_detour_at_a_speed() -> None:
    # Lyon to Paris 392.21726 km (README of the haversine package 2.9.0) with the detour factor 1.3 of arXiv
    # 2406.06490 and the 1.2 of Newell 1980.
    lyon, paris = at("45.7597", "4.8422"), at("48.8567", "2.3508")
    assert road_km(lyon, paris) == D("509.9")
    assert road_km(lyon, paris, detour=1.2) == D("470.7")
    assert drive_minutes(lyon, paris, speed_kmh=90) == ceil(392.21726 * 1.3 / 90 * 60) == 340
    assert drive_minutes(lyon, lyon, speed_kmh=40) == 0
    for speed, detour in ((0, 1.3), (-5, 1.3), (40, 0.9)):
        with pytest.raises(PlaceError, match="speed"):
            drive_minutes(lyon, paris, speed_kmh=speed, detour=detour)
