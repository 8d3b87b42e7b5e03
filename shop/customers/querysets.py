"""Reads of customers."""

import re
from typing import Any

from django.db import models

MOST_WORDS = 6
TRIGRAM = 3
SHORTEST_NUMBER = 3
# A whole list is put in order before its first page is known, and three digits are an area code that everybody shares.
SHORTEST_IN_LISTS = 4


class Folded(models.Func):
    """Text without capitals, accents and apostrophes, by the database's own `bittern_fold`."""

    function = "bittern_fold"
    output_field = models.TextField()


def digits_of(text: str) -> str:
    """The digits of a telephone number being typed, without the zeros dialled before it at home; "" for other text."""
    if re.search(r"[^\W\d_]", text):
        return ""
    digits = "".join(char for char in text if char in "0123456789").lstrip("0")
    return digits if len(digits) >= SHORTEST_NUMBER else ""


def words_of(text: str) -> list[str]:
    """The words of a name being typed, the longest first: those narrow the search most."""
    return sorted((word for word in re.split(r"[\s,;]+", text) if word), key=len, reverse=True)[:MOST_WORDS]


class CustomerQuerySet(models.QuerySet[Any]):
    def with_contacts(self) -> "CustomerQuerySet":
        return self.prefetch_related("phones", "emails", "addresses")

    def in_order(self) -> "CustomerQuerySet":
        return self.order_by("name_search", "id")

    def after(self, customer: Any) -> "CustomerQuerySet":
        """Those who follow one customer `in_order`."""
        return self.filter(_beyond("gt", customer))

    def before(self, customer: Any) -> "CustomerQuerySet":
        """Those who stand before one customer `in_order`."""
        return self.filter(_beyond("lt", customer))

    def reached_by(self, number: str) -> "CustomerQuerySet":
        """Customers with exactly this telephone number (E.164)."""
        return self.filter(phones__number=number).distinct()

    def matching(self, text: str) -> "CustomerQuerySet":
        """Those whose name or contact holds every word of `text`, or one of whose numbers or e-mails holds it.

        Nothing to look for finds everybody. Each part is one index search, joined by `UNION`, since an `OR` across
        tables would read them whole.
        """
        text = text.strip()
        if not text:
            return self
        found = self._parts(text)
        return self.filter(pk__in=found[0].union(*found[1:])) if found else self.none()

    def _parts(self, text: str) -> "list[models.QuerySet[Any, Any]]":
        """The ids of those who match, one query for each way of being known."""
        parts: list[models.QuerySet[Any, Any]] = []
        if len(digits := digits_of(text)) >= SHORTEST_IN_LISTS:
            parts.append(self._related("phones").filter(number__contains=digits).values("customer_id"))
        if "@" in text:
            parts.append(self._related("emails").filter(address__icontains=text).values("customer_id"))
        elif words := words_of(text):
            everybody: CustomerQuerySet = self.model.objects.all()
            for word in words:
                everybody = everybody.filter(_holds(word))
            parts.append(everybody.values("id"))
        return parts

    def _related(self, name: str) -> "models.QuerySet[Any]":
        rows: models.QuerySet[Any] = self.model._meta.get_field(name).related_model._default_manager.all()
        return rows

    def sharing_a_number_with(self, customer: Any) -> "CustomerQuerySet":
        """Others who are reached by a telephone number of this customer: perhaps the same person twice."""
        numbers = customer.phones.values("number")
        return self.filter(phones__number__in=numbers).exclude(pk=customer.pk).distinct()


def _holds(word: str) -> models.Q:
    if len(word) >= TRIGRAM:
        return models.Q(name_search__contains=Folded(models.Value(word)))
    # Shorter than a trigram: the index knows only words that begin with it.
    begins = models.Q(name_search__startswith=Folded(models.Value(word)))
    return begins | models.Q(name_search__contains=Folded(models.Value(f" {word}")))


def _beyond(side: str, customer: Any) -> models.Q:
    # The row comparison (name, id) > (?, ?) spelt so that the index on both is walked from the right place.
    name, pk = customer.name_search, customer.pk
    return models.Q(**{f"name_search__{side}e": name}) & (
        models.Q(**{f"name_search__{side}": name}) | models.Q(**{f"pk__{side}": pk})
    )
