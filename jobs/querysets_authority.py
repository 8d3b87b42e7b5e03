"""Reads of record rules, checks and openings."""

from collections.abc import Collection
from datetime import datetime, timedelta
from typing import Any

from django.db import models

from jobs.opening_chain import Link
from jobs.record_rules.examples import PLAIN

# For so long one opening serves the same person for the same job and data.
COVERS = timedelta(minutes=30)


class RecordRuleQuerySet(models.QuerySet[Any]):
    def newest(self) -> "RecordRuleQuerySet":
        """The newest version of every rule, by name."""
        later = self.model.objects.filter(key=models.OuterRef("key"), version__gt=models.OuterRef("version"))
        return self.filter(~models.Exists(later)).order_by("-is_shipped", "name", "id")

    def chosen(self) -> Any | None:
        """The version that the shop follows: the one chosen last, else the plain default; None before shipping."""
        choices = self.model.choices.rel.related_model.objects.select_related("rule").order_by("-id")
        choice = choices.first()
        return choice.rule if choice else self.filter(key=PLAIN).order_by("-version").first()


class AuthorityCheckQuerySet(models.QuerySet[Any]):
    def standing(self) -> "AuthorityCheckQuerySet":
        """The newest check of each job: the one that holds."""
        later = self.model.objects.filter(job=models.OuterRef("job"), pk__gt=models.OuterRef("pk"))
        return self.filter(~models.Exists(later))

    def asked(self) -> "AuthorityCheckQuerySet":
        """Exceptions that wait for the owner, the oldest first."""
        return self.standing().filter(outcome="asked").select_related("job", "by").order_by("pk")

    def of(self, job: Any) -> Any | None:
        """The check that holds for a job."""
        return self.filter(job=job).select_related("rule", "by").order_by("-pk").first()

    def with_document(self, fingerprint: str) -> "AuthorityCheckQuerySet":
        return self.filter(document_fingerprint=fingerprint)


class OpeningQuerySet(models.QuerySet[Any]):
    def covering(self, *, person: Any, job: Any, kinds: Collection[str], at: datetime) -> Any | None:
        """An opening that still serves: same person and job, all these kinds, within the last half hour."""
        recent = self.filter(person=person, job=job, at__gt=at - COVERS, at__lte=at)
        return recent.filter(kinds__contains=sorted(kinds)).order_by("-number").first()

    def as_links(self) -> list[Link]:
        """Every opening as the chain checks it, in the order in which the rows were written."""
        facts = (
            "number",
            "person_id",
            "person_name",
            "job_number",
            "kinds",
            "reason",
            "at",
            "previous",
            "hash",
            "seal",
        )
        rows = self.order_by("pk").values_list(*facts)
        return [Link(n, p, name, job, tuple(kinds), *rest) for n, p, name, job, kinds, *rest in rows.iterator()]
