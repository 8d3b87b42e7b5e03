"""Reads of families and procedures."""

from typing import TYPE_CHECKING, Any

from django.db import models
from django.db.models.functions import Lower

from vehicles.states import VersionState

if TYPE_CHECKING:
    from vehicles.models import Variant, VehicleFamily


class FamilyQuerySet(models.QuerySet[Any]):
    def in_use(self) -> "FamilyQuerySet":
        return self.filter(is_active=True)

    def in_order(self) -> "FamilyQuerySet":
        return self.order_by("-is_active", Lower("make"), Lower("name"))

    def of_make(self, make: str) -> "FamilyQuerySet":
        return self.filter(make__iexact=" ".join(make.split()))

    def matching(self, text: str) -> "FamilyQuerySet":
        """Those whose make, name, models, transponder or years hold every word of `text`."""
        found = self
        for word in text.split():
            by = (
                models.Q(make__icontains=word)
                | models.Q(name__icontains=word)
                | models.Q(models_text__icontains=word)
                | models.Q(transponder__icontains=word)
                | models.Q(market__icontains=word)
            )
            if word.isdecimal() and len(word) == 4:
                by |= models.Q(year_from__lte=int(word), year_until__gte=int(word))
            found = found.alias(models_text=_models_text()).filter(by)
        return found

    def with_key(self) -> "FamilyQuerySet":
        """Loads the key system and the items."""
        return self.select_related("key_system").prefetch_related("family_items__item")


def _models_text() -> models.Func:
    return models.Func(
        models.F("model_names"), models.Value(" "), function="array_to_string", output_field=models.TextField()
    )


class ProcedureQuerySet(models.QuerySet[Any]):
    def of_family(self, family: "VehicleFamily") -> "ProcedureQuerySet":
        return self.filter(family=family)

    def for_work(self, family: "VehicleFamily", kind_of_work: str, variant: "Variant | None" = None) -> Any | None:
        """The procedure with an accepted version for this work: the variant's own before the family's; or None."""
        accepted = self.filter(family=family, kind_of_work=kind_of_work, versions__state=VersionState.ACCEPTED)
        fits = (
            accepted.filter(models.Q(variant=variant) | models.Q(variant=None))
            if variant
            else accepted.filter(variant=None)
        )
        return fits.select_related("family", "variant").order_by(models.F("variant").asc(nulls_last=True)).first()


class VersionQuerySet(models.QuerySet[Any]):
    def accepted(self) -> "VersionQuerySet":
        return self.filter(state=VersionState.ACCEPTED)

    def proposed(self) -> "VersionQuerySet":
        return self.filter(state=VersionState.PROPOSED)

    def with_steps(self) -> "VersionQuerySet":
        return self.prefetch_related("steps").select_related(
            "procedure__family", "procedure__variant", "proposed_by", "decided_by", "based_on"
        )
