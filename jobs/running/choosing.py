"""What to run on a vehicle: its family, its variant, the versions in force that fit."""

from collections.abc import Iterable
from dataclasses import dataclass

from jobs.models import Visit
from vehicles.models import ProcedureVersion, Variant, VehicleFamily
from vehicles.procedure_content import limit_words, wait_words


@dataclass(frozen=True)
class Offer:
    """A version to run, with what is told before it begins."""

    version: ProcedureVersion

    @property
    def supply(self) -> str:
        return limit_words(self.version.low_volts, self.version.high_volts, "V")

    @property
    def waits(self) -> str:
        """All waits together, or nothing."""
        seconds = sum(step.seconds or 0 for step in self.version.steps.all())
        return wait_words(seconds) if seconds else ""

    @property
    def cautions(self) -> list[str]:
        return list(dict.fromkeys(step.caution for step in self.version.steps.all() if step.caution))


@dataclass(frozen=True)
class Choice:
    """`asked` are the variants to tell apart first. `fitting` is for this job's work, `others` for other work."""

    family: VehicleFamily | None = None
    variant: Variant | None = None
    variants: tuple[Variant, ...] = ()
    is_asking: bool = False
    fitting: Offer | None = None
    others: tuple[Offer, ...] = ()


def load_choice(visit: Visit, *, is_unknown: bool, is_asked_again: bool) -> Choice:
    """The choice on a visit; `is_unknown`: the technician cannot tell the variant."""
    vehicle = visit.job.vehicle
    if vehicle is None or vehicle.family is None:
        return Choice()
    family, variant = vehicle.family, vehicle.variant
    variants = tuple(family.variants.filter(is_active=True))
    if variants and (is_asked_again or (variant is None and not is_unknown)):
        return Choice(family, variant, variants, is_asking=True)
    versions = ProcedureVersion.objects.accepted().with_steps().filter(procedure__family=family)
    offers = _fitting(versions, variant)
    mine = offers.pop(visit.job.kind_of_work, None)
    return Choice(family, variant, variants, fitting=mine, others=tuple(offers.values()))


def _fitting(versions: Iterable[ProcedureVersion], variant: Variant | None) -> dict[str, Offer]:
    """For each kind of work the variant's own version before the family's."""
    found: dict[str, Offer] = {}
    for version in versions:
        procedure = version.procedure
        is_own = variant is not None and procedure.variant_id == variant.pk
        if is_own or (procedure.variant_id is None and procedure.kind_of_work not in found):
            found[procedure.kind_of_work] = Offer(version)
    return found
