"""Reads of key systems and code books."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from django.db import models
from django.db.models.functions import Lower

from vehicles.code_tokens import Tokens

if TYPE_CHECKING:
    from vehicles.models import CodeBook, KeySystemSheet


class KeySystemQuerySet(models.QuerySet[Any]):
    def in_use(self) -> "KeySystemQuerySet":
        return self.filter(is_active=True)

    def in_order(self) -> "KeySystemQuerySet":
        return self.order_by("-is_active", Lower("name"))

    def with_book_counts(self) -> "KeySystemQuerySet":
        return self.annotate(book_count=models.Count("code_books"))


class CodeBookQuerySet(models.QuerySet[Any]):
    def in_use(self) -> "CodeBookQuerySet":
        return self.filter(is_active=True)

    def in_order(self) -> "CodeBookQuerySet":
        return self.order_by("-is_active", Lower("name")).select_related("key_system", "imported_by")


class CodeRowQuerySet(models.QuerySet[Any]):
    def readable(self) -> "CodeRowQuerySet":
        """Rows of books that are in use."""
        return self.filter(book__is_active=True)

    def with_code(self, code: str) -> "CodeRowQuerySet":
        return self.filter(code=code)

    def with_cuts(self, sheet: "KeySystemSheet", known: Sequence[str | None]) -> "CodeRowQuerySet":
        """Rows whose bitting has the known cuts; None stands for any cut. At least one cut must be known."""
        return self.filter(tokens__contains=Tokens(sheet.pk, sheet.system).of_search(known))

    def with_choices(self, sheet: "KeySystemSheet", choices: Sequence[Sequence[str]]) -> "CodeRowQuerySet":
        """Rows of the system's books with, at each cut, one of the labels given for it."""
        tokens = Tokens(sheet.pk, sheet.system)
        found = self.filter(book__key_system=sheet)
        for cut, labels in enumerate(choices):
            if len(labels) < len(sheet.system.labels):
                found = found.filter(tokens__overlap=tokens.singles(cut, labels))
        return found

    def in_book(self, book: "CodeBook") -> "CodeRowQuerySet":
        return self.filter(book=book)
