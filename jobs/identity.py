"""The guarded facts of a check, opened with a permit for the page or paper that shows them."""

from dataclasses import dataclass
from datetime import date

from jobs.models import AuthorityCheck, AuthorityPhoto
from jobs.record_rules import Fact
from jobs.signatures import Signature, as_svg
from shop.guarded import Permit

BORN_KIND = "jobs.authoritycheck.born_on"
NUMBER_KIND = "jobs.authoritycheck.document_number"
SIGNATURE_KIND = "jobs.authoritycheck.signature"
PHOTO_KIND = AuthorityPhoto.KIND
KIND_OF = {Fact.BORN_ON: BORN_KIND, Fact.DOCUMENT_NUMBER: NUMBER_KIND, Fact.SIGNATURE: SIGNATURE_KIND}


@dataclass(frozen=True, repr=False)
class OpenedIdentity:
    """What was sealed; facts that are not there, or that the permit leaves shut, are empty."""

    born_on: date | None = None
    document_number: str = ""
    signature: Signature | None = None
    photos: tuple[AuthorityPhoto, ...] = ()

    @property
    def signature_svg(self) -> str:
        """The drawn signature as SVG: numbers of our own making only, so it may stand in a page as it is."""
        return as_svg(self.signature) if self.signature and self.signature.is_drawn else ""


def kinds_of(check: AuthorityCheck) -> list[str]:
    """What there is to open of a check; its signature's column when there is nothing."""
    found = [kind for kind in KIND_OF.values() if getattr(check, kind.rpartition(".")[2]) is not None]
    if check.photos.exists():
        found.append(PHOTO_KIND)
    return found or [SIGNATURE_KIND]


def opened(check: AuthorityCheck, permit: Permit) -> OpenedIdentity:
    """Opens what the permit is for."""
    born, number, signed = (
        getattr(check, kind.rpartition(".")[2]) if kind in permit.kinds else None
        for kind in (BORN_KIND, NUMBER_KIND, SIGNATURE_KIND)
    )
    return OpenedIdentity(
        born_on=date.fromisoformat(born.open(permit)) if born is not None else None,
        document_number=number.open(permit) if number is not None else "",
        signature=Signature.from_json(signed.open(permit)) if signed is not None else None,
        photos=tuple(check.photos.order_by("pk")) if PHOTO_KIND in permit.kinds else (),
    )
