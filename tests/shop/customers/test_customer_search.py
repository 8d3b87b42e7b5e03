"""Customers found by parts of names, numbers and e-mails, and paged in the order of the alphabet."""

import pytest
from django.test import TestCase
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase as PropertyTestCase

from shop.customers.actions import add_customer
from shop.customers.models import Customer
from shop.customers.paging import page_of


def names(text: str) -> set[str]:
    return {customer.name for customer in Customer.objects.matching(text)}


class Search(TestCase):
    @classmethod
    def setUpTestData(cls) -> None:
        add_customer(
            actor=None,
            name="Zoë O’Neill-Łuków",
            phones=[("+442071838750", "")],
            emails=[("zoe.oneill@post.example", "")],
        )
        add_customer(actor=None, name="Ben Dunsaham", phones=[("+12015550123", ""), ("+12015550124", "")])
        add_customer(actor=None, name="Harbour Fleet", contact_name="Inès Quist", kind="account")
        add_customer(actor=None, name="100% Cars_Ltd")

    def test_name_is_found_without_capitals_accents_and_apostrophes(self) -> None:
        for text in ("zoe", "ZOË", "oneill", "o'neill", "lukow", "neill zo", "Zoë O’Neill-Łuków", "Z"):
            with self.subTest(text):
                assert names(text) == {"Zoë O’Neill-Łuków"}

    def test_short_words_are_beginnings_of_words(self) -> None:
        assert names("du") == {"Ben Dunsaham"}
        assert names("un") == set()

    def test_contact_of_a_business_is_found(self) -> None:
        assert names("ines") == {"Harbour Fleet"}

    def test_number_is_found_however_it_is_typed(self) -> None:
        for text in ("(201) 555-0123", "+1 201 555", "5550124", "201.555.01"):
            with self.subTest(text):
                assert names(text) == {"Ben Dunsaham"}
        assert names("0044 20 7183 8750") == {"Zoë O’Neill-Łuków"}
        assert names("020 7183") == {"Zoë O’Neill-Łuków"}

    def test_customer_with_two_matching_numbers_is_found_once(self) -> None:
        assert Customer.objects.matching("2015550").count() == 1

    def test_email_is_found_by_any_part_with_its_sign(self) -> None:
        assert names("oneill@post") == {"Zoë O’Neill-Łuków"}
        assert names("@elsewhere") == set()

    def test_signs_of_patterns_stand_for_themselves(self) -> None:
        assert names("100%") == {"100% Cars_Ltd"}
        assert names("s_l") == {"100% Cars_Ltd"}
        for text in ("%%%", "___", "Du%am", "\\\\\\"):
            with self.subTest(text):
                assert names(text) == set()

    def test_nothing_typed_finds_everybody(self) -> None:
        assert len(names("  ")) == 4
        assert names(" , ") == set()

    def test_every_word_must_match(self) -> None:
        assert names("ben harbour") == set()


class Paging(PropertyTestCase):
    @settings(max_examples=25, deadline=None)
    @given(
        spelt=st.lists(st.sampled_from(["Ada", "ada", "Àda", "Ben", "Zed", "b'en", "Ça"]), max_size=12),
        size=st.integers(1, 5),
    )
    def test_pages_hold_everybody_once_forwards_and_back(self, spelt: list[str], size: int) -> None:
        for name in spelt:
            add_customer(actor=None, name=name)
        everybody = list(Customer.objects.in_order())
        page = page_of(Customer.objects.all(), size=size)
        seen, steps = list(page.rows), 0
        assert page.before is None
        while page.after:
            page = page_of(Customer.objects.all(), after=str(page.after), size=size)
            seen += page.rows
            steps += 1
        assert seen == everybody
        for _ in range(steps):
            assert page.before
            page = page_of(Customer.objects.all(), before=str(page.before), size=size)
        assert list(page.rows) == everybody[:size]
        assert page.before is None


@pytest.mark.django_db
@pytest.mark.parametrize("sent", ["x", "-1", "9" * 40, "٣", "1 OR 1=1", "999999"])
def test_page_after_nonsense_is_the_first(sent: str) -> None:
    ella = add_customer(actor=None, name="Ella")
    assert list(page_of(Customer.objects.all(), after=sent).rows) == [ella]
    assert list(page_of(Customer.objects.all(), before=sent).rows) == [ella]
