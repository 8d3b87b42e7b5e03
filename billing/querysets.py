"""Reads of prices told, invoices and payments."""

import re
from datetime import date
from decimal import Decimal
from typing import Any

from django.db import models
from django.db.models import Exists, F, Q
from django.db.models.functions import Coalesce

from jobs.models import Job
from shop.staff.roles import Role

INVOICE_NUMBER = re.compile(r"([0-9]{4})-([0-9]{1,9})")


class InvoiceQuerySet(models.QuerySet[Any]):
    def for_user(self, person: Any) -> "InvoiceQuerySet":
        """Office and owner see every invoice; a technician those of their own jobs."""
        if person.roles & {Role.OFFICE, Role.OWNER}:
            return self
        return self.filter(job__in=Job.objects.for_user(person))

    def drafts(self) -> "InvoiceQuerySet":
        return self.filter(state="draft")

    def issued(self) -> "InvoiceQuerySet":
        return self.filter(state="issued")

    def unpaid(self) -> "InvoiceQuerySet":
        return self.issued().filter(paid__lt=F("total"))

    def overdue(self, today: date) -> "InvoiceQuerySet":
        return self.unpaid().filter(due_on__lt=today)

    def paid_up(self) -> "InvoiceQuerySet":
        return self.issued().filter(paid=F("total"))

    def without_paper(self) -> "InvoiceQuerySet":
        return self.issued().filter(paper="")

    def with_parties(self) -> "InvoiceQuerySet":
        return self.select_related("customer", "job__vehicle")

    def newest_first(self) -> "InvoiceQuerySet":
        """By number, drafts before them."""
        return self.order_by(F("issued_at").desc(nulls_first=True), "-year", "-sequence", "-id")

    def matching(self, text: str) -> "InvoiceQuerySet":
        """Invoices whose number, job number, customer, plate or purchase order begins with or holds the text."""
        found = (
            Q(customer__name__icontains=text)
            | Q(job__vehicle__plate__istartswith=text)
            | Q(purchase_order__istartswith=text)
        )
        if match := INVOICE_NUMBER.fullmatch(text):
            found |= Q(year=match[1], sequence=match[2])
        if text.isdecimal() and len(text) < 10:
            found |= Q(job__number=text) | Q(sequence=text)
        return self.filter(found)

    def sums(self) -> dict[str, Any]:
        """Together: how many, what they come to and what is open of it."""
        zero = Decimal(0)
        return self.aggregate(
            count=models.Count("pk"),
            sum=Coalesce(models.Sum("total"), zero),
            balance=Coalesce(models.Sum(F("total") - F("paid")), zero),
        )


class PaymentQuerySet(models.QuerySet[Any]):
    def for_user(self, person: Any) -> "PaymentQuerySet":
        """Office and owner see every payment; a technician those for their own jobs."""
        if person.roles & {Role.OFFICE, Role.OWNER}:
            return self
        return self.filter(Exists(self._parts().filter(invoice__job__in=Job.objects.for_user(person))))

    def _parts(self) -> "models.QuerySet[Any]":
        parts: models.QuerySet[Any] = self.model.parts.rel.related_model.objects.filter(payment=models.OuterRef("pk"))
        return parts

    def without_receipt(self) -> "PaymentQuerySet":
        return self.filter(receipt="")


class QuotationQuerySet(models.QuerySet[Any]):
    def with_lines(self) -> "QuotationQuerySet":
        return self.select_related("told_by").prefetch_related("lines")

    def newest_first(self) -> "QuotationQuerySet":
        return self.order_by("-told_at", "-id")

    def newest_of(self, job: Any) -> Any:
        """The price told last for a job, or None."""
        return self.filter(job=job).newest_first().first()

    def unanswered_of(self, job: Any) -> Any:
        """The price told last, when nobody has said yes to it and an earlier one still holds; else None."""
        newest, standing = self.newest_of(job), self.standing_of(job)
        return newest if newest != standing else None

    def standing_of(self, job: Any) -> Any:
        """The price that holds for a job: the one accepted last, else the one told last, or None."""
        return self.filter(job=job).order_by(F("accepted_at").desc(nulls_last=True), "-told_at", "-id").first()
