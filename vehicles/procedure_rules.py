"""Who may decide about a proposed version of a procedure. No I/O."""

from shop.staff.models import Person
from vehicles.models import ProcedureVersion
from vehicles.states import VersionState


def why_not_decide(person: Person, version: ProcedureVersion) -> str:
    """Why this person may not accept or reject this version, or nothing.

    The owner may always, the office what others proposed, a technician never.
    """
    if version.state != VersionState.PROPOSED:
        return f"Version {version.number} is {version.get_state_display().lower()} already."
    if person.is_owner:
        return ""
    if not person.is_office:
        return "The owner or the office accepts what technicians propose."
    if version.proposed_by_id == person.pk:
        return "You proposed this yourself: somebody else accepts it."
    return ""


def may_decide(person: Person, version: ProcedureVersion) -> bool:
    return not why_not_decide(person, version)
