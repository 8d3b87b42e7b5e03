"""Writes on procedures: proposed, accepted, rejected. What a version says is never changed."""

from dataclasses import asdict
from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils import timezone

from shop.errors import Refused
from shop.staff.models import Person
from vehicles.errors import ChangedMeanwhile, NotAProcedure
from vehicles.models import Procedure, ProcedureStep, ProcedureVersion, Variant, VehicleFamily
from vehicles.procedure_content import Content, faults_of
from vehicles.procedure_rules import why_not_decide
from vehicles.states import KindOfWork, VersionState


@transaction.atomic
def add_procedure(
    family: VehicleFamily,
    *,
    actor: Person,
    kind_of_work: str,
    content: Content,
    variant: Variant | None = None,
    uid: Any = None,
    at: datetime | None = None,
) -> Procedure:
    """A new procedure with its first version, proposed.

    Raises Refused when there is one for this work already, NotAProcedure for content with faults.
    """
    if kind_of_work not in KindOfWork.values:
        raise Refused("Choose the kind of work.", field="kind_of_work")
    if variant and variant.family_id != family.pk:
        raise Refused("That variant belongs to another family.", field="variant")
    # The family's row settles the race of two first proposals.
    VehicleFamily.objects.select_for_update().get(pk=family.pk)
    if Procedure.objects.filter(family=family, variant=variant, kind_of_work=kind_of_work).exists():
        raise Refused("There is a procedure for this work already. Propose a new version of it.", field="kind_of_work")
    facts = {"uid": uid} if uid else {}
    procedure = Procedure.objects.create(family=family, variant=variant, kind_of_work=kind_of_work, **facts)
    _store(procedure, actor, content, number=1, based_on=None, change_words="", at=at)
    return procedure


@transaction.atomic
def propose_version(
    procedure: Procedure,
    *,
    actor: Person,
    content: Content,
    based_on: ProcedureVersion | None,
    seen_number: int | None = None,
    change_words: str = "",
    at: datetime | None = None,
) -> ProcedureVersion:
    """Proposes a new version, made out of `based_on`.

    `seen_number` is the newest version that the author knew; when others came meanwhile, raises ChangedMeanwhile with
    them. Raises NotAProcedure for content with faults.
    """
    locked = Procedure.objects.select_for_update().get(pk=procedure.pk)
    newest = locked.versions.order_by("-number").first()
    number = newest.number if newest else 0
    if seen_number is not None and number > seen_number:
        raise ChangedMeanwhile(
            list(locked.versions.filter(number__gt=seen_number).select_related("proposed_by", "based_on"))
        )
    return _store(locked, actor, content, number=number + 1, based_on=based_on, change_words=change_words, at=at)


def _store(
    procedure: Procedure,
    actor: Person,
    content: Content,
    *,
    number: int,
    based_on: ProcedureVersion | None,
    change_words: str,
    at: datetime | None,
) -> ProcedureVersion:
    if faults := faults_of(content):
        raise NotAProcedure(faults)
    version = ProcedureVersion.objects.create(
        procedure=procedure,
        number=number,
        based_on=based_on,
        change_words=change_words.strip(),
        source=content.source.strip(),
        proved_by=content.proved_by.strip(),
        equipment=[each.strip() for each in content.equipment if each.strip()],
        low_volts=content.low_volts,
        high_volts=content.high_volts,
        proposed_by=actor,
        proposed_at=at or timezone.now(),
    )
    ProcedureStep.objects.bulk_create(
        ProcedureStep(version=version, position=position, **asdict(step))
        for position, step in enumerate(content.steps, 1)
    )
    return version


@transaction.atomic
def accept_version(
    version: ProcedureVersion, *, actor: Person, knows_of: int | None = None, at: datetime | None = None
) -> ProcedureVersion:
    """Puts a proposed version into force; the one in force before is superseded.

    A proposal that is not based on the version in force would undo what came between: it is accepted only when
    `knows_of` is the number of the version in force. Raises Refused.
    """
    procedure, fresh = _locked(version)
    if words := why_not_decide(actor, fresh):
        raise Refused(words)
    in_force = procedure.versions.accepted().first()
    if in_force and fresh.based_on_id != in_force.pk and knows_of != in_force.number:
        based = f"version {fresh.based_on.number}" if fresh.based_on else "no earlier version"
        raise Refused(
            f"This is based on {based}, and version {in_force.number} is in force by now. Compare the two first.",
            field="knows_of",
        )
    if in_force:
        in_force.state = VersionState.SUPERSEDED
        in_force.save(update_fields=["state"])
    return _decide(fresh, actor, VersionState.ACCEPTED, "", at)


@transaction.atomic
def reject_version(
    version: ProcedureVersion, *, actor: Person, reason: str, at: datetime | None = None
) -> ProcedureVersion:
    """Turns a proposed version down. Raises Refused without a reason. Its own author may take it back so."""
    _, fresh = _locked(version)
    is_own = fresh.state == VersionState.PROPOSED and fresh.proposed_by_id == actor.pk
    if not is_own and (words := why_not_decide(actor, fresh)):
        raise Refused(words)
    if not reason.strip():
        raise Refused("Say why, so that the author can mend it.", field="reason")
    return _decide(fresh, actor, VersionState.REJECTED, reason.strip(), at)


def _locked(version: ProcedureVersion) -> tuple[Procedure, ProcedureVersion]:
    procedure = Procedure.objects.select_for_update().get(pk=version.procedure_id)
    return procedure, ProcedureVersion.objects.select_related("based_on").get(pk=version.pk)


def _decide(
    version: ProcedureVersion, actor: Person, state: VersionState, reason: str, at: datetime | None
) -> ProcedureVersion:
    version.state, version.decided_by, version.decided_at, version.reason = state, actor, at or timezone.now(), reason
    version.save(update_fields=["state", "decided_by", "decided_at", "reason"])
    return version
