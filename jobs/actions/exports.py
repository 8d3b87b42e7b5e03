"""All that is known of a customer, as one file for a week."""

import io
import json
import zipfile
from collections.abc import Iterator
from datetime import datetime
from typing import Any

from django.core.files.base import ContentFile
from django.core.serializers.json import DjangoJSONEncoder
from django.db import transaction
from django.utils import timezone

from jobs.actions.holds import check_owner
from jobs.actions.openings import open_guarded
from jobs.identity import kinds_of, opened
from jobs.models import AuthorityCheck, DataExport, Job, KeyWork
from jobs.sending import MAKE_EXPORT, send
from shop.customers.models import Customer
from shop.errors import Refused
from shop.guarded import NotPermitted
from shop.keeping.rooms import rooms
from shop.staff.models import Person

CODE, CUTS = "jobs.keywork.code", "jobs.keywork.bitting"


@transaction.atomic
def ask_for_export(customer: Customer, *, actor: Person, reason: str = "", at: datetime | None = None) -> DataExport:
    """Begins a file of a customer's data. With a reason what is guarded is opened for it, by the person who asks."""
    check_owner(actor)
    words = " ".join(reason.split())
    if len(words) > 200:
        raise Refused("Say it in at most 200 letters.", field="reason")
    if DataExport.objects.filter(customer=customer, state__in=("waiting", "running"), reason=words).exists():
        raise Refused("This file is being made already.")
    made = DataExport.objects.create(customer=customer, person=actor, reason=words, asked_at=at or timezone.now())
    send(MAKE_EXPORT, made.pk)
    return made


@transaction.atomic
def make_export(made: DataExport) -> DataExport:
    """Gathers the data and keeps it as an encrypted zip. Doing it twice makes the file anew."""
    content = _zip(made)
    if made.file:
        made.file.storage.delete(str(made.file.name))
    made.file.save(f"{made.pk}.zip", ContentFile(content), save=False)
    made.state, made.percent, made.heard_at = made.State.DONE, 100, timezone.now()
    made.save(update_fields=["file", "state", "percent", "heard_at"])
    return made


def _zip(made: DataExport) -> bytes:
    kept = io.BytesIO()
    with zipfile.ZipFile(kept, "w", zipfile.ZIP_DEFLATED) as archive:
        told: dict[str, Any] = {"made_at": timezone.now()}
        for room in rooms():
            told |= room.data(made.customer)
            for file in room.files(made.customer):
                archive.writestr(file.name, file.read())
        if made.reason:
            told["opened"] = {"reason": made.reason, "jobs": list(_guarded(made, archive))}
        text = json.dumps(told, cls=DjangoJSONEncoder, indent=2, ensure_ascii=False)
        archive.writestr("data.json", text)
    return kept.getvalue()


def _guarded(made: DataExport, archive: zipfile.ZipFile) -> Iterator[dict[str, Any]]:
    """What is sealed of each job, opened by who asked for the file; where that may not be, why not."""
    for job in Job.objects.filter(customer=made.customer).select_related("vehicle").order_by("number"):
        found: dict[str, Any] = {"job": job.number}
        for gather in (_identity, _key):
            try:
                found |= gather(job, made, archive)
            except NotPermitted as refused:
                found.setdefault("not_opened", []).append(str(refused))
        if len(found) > 1:
            yield found


def _identity(job: Job, made: DataExport, archive: zipfile.ZipFile) -> dict[str, Any]:
    check = AuthorityCheck.objects.of(job)
    if check is None or not (check.document_number or check.born_on or check.signature or check.photos.exists()):
        return {}
    permit = open_guarded(job, actor=made.person, kinds=kinds_of(check), reason=f"Customer's data: {made.reason}")
    identity = opened(check, permit)
    for photo in identity.photos:
        archive.writestr(f"papers/job-{job.number}-{photo.pk}.jpg", photo.read(permit))
    if identity.signature_svg:
        archive.writestr(f"papers/job-{job.number}-signature.svg", identity.signature_svg)
    return {"born_on": identity.born_on, "document_number": identity.document_number}


def _key(job: Job, made: DataExport, archive: zipfile.ZipFile) -> dict[str, Any]:
    work = KeyWork.objects.filter(job=job).first()
    if work is None or (work.code is None and work.bitting is None):
        return {}
    permit = open_guarded(job, actor=made.person, kinds=[CODE, CUTS], reason=f"Customer's data: {made.reason}")
    return {
        "code": work.code.open(permit) if work.code is not None else "",
        "cuts": work.bitting.open(permit) if work.bitting is not None else [],
    }
