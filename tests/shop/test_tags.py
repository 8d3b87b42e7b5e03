"""Marks, figures and fields as the templates write them."""

from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.template import Context, Template
from django.utils import timezone

from shop.templatetags import bittern


def render(text: str, **context: object) -> str:
    return Template(text).render(Context(context))


@pytest.mark.parametrize(
    ("length", "words"),
    [
        (0, "0\u00a0min"),
        (59, "59\u00a0min"),
        (60, "1\u00a0h"),
        (65, "1\u00a0h\u00a005"),
        (80, "1\u00a0h\u00a020"),
        (timedelta(hours=2), "2\u00a0h"),
        (timedelta(minutes=-12), "−12\u00a0min"),
        (None, ""),
    ],
)
def test_minutes(length: int | timedelta | None, words: str) -> None:
    # common practice, no source
    assert bittern.minutes(length) == words


def test_vin_is_grouped_as_its_sections() -> None:
    # ISO 3779: world manufacturer identifier 1-3, descriptor 4-9, indicator 10-17. The VIN is the one of 49 CFR 565
    # guides. Spans and not spaces, so that copying gives the bare VIN.
    html = render("{{ v|vin }}", v="1M8GDM9AXKP042788")
    assert (
        html
        == '<span class="code grouped"><span>1M8</span><span>GDM9AX</span><span>KP04</span><span>2788</span></span>'
    )


def test_vin_of_another_length_loses_nothing() -> None:
    assert render("{{ v|vin|striptags }}", v="ab 1234 567890123") == "ab1234567890123"


def test_text_from_people_is_escaped() -> None:
    assert "<b>" not in render("{{ v|vin }}{{ v|code }}{% mark 1 v %}", v="<b>")


@pytest.mark.parametrize("state", list(bittern.STATES))
def test_state_is_always_a_word_beside_its_mark(state: str) -> None:
    html = render("{% state_mark s %}", s=state)
    assert "<svg" in html
    assert bittern.STATES[state][1] in html


def test_disc_fills_with_the_job() -> None:
    fills = [bittern.STATES[state][0] for state in ("waiting", "booked", "on_the_way", "on_site", "finished")]
    assert fills == ["0", "1", "2", "3", "4"]


def test_unknown_state_is_not_drawn_as_something_else() -> None:
    with pytest.raises(KeyError):
        bittern.state_mark("asleep")


def test_clock_and_day_are_the_shops() -> None:
    # 23:30 UTC on 31 December is 00:30 on 1 January in Oslo (CET, UTC+1; IANA time zone database).
    late = datetime(2031, 12, 31, 23, 30, tzinfo=UTC)
    with timezone.override(ZoneInfo("Europe/Oslo")):
        assert bittern.clock(late) == "00:30"
        assert bittern.day(late) == "Thu 1 Jan 2032"
        assert bittern.long_day(late) == "Thursday 1 January 2032"
    assert bittern.clock(time(7, 5)) == "07:05"


def test_day_of_this_year_has_no_year() -> None:
    assert not bittern.day(timezone.localdate()).endswith(str(timezone.localdate().year))
    assert bittern.day(date(1999, 2, 3)) == "Wed 3 Feb 1999"


def test_money_keeps_code_and_figure_together() -> None:
    assert render("{{ a|money:'JPY' }}", a=Decimal("1200")) == "1,200\u00a0JPY"
    assert render("{{ a|money:'USD' }}", a=None) == "—"


def test_each_form_has_a_key_of_its_own() -> None:
    one, other = render("{% form_key %}"), render("{% form_key %}")
    assert one != other
    assert 'name="form_key"' in one


def test_icon_is_hidden_from_readers() -> None:
    assert 'aria-hidden="true"' in render('{% icon "phone" %}')
