"""How rows of jobs are emptied. Only the night, and the erasing of a customer, call these; each in one transaction."""

from typing import Any

from django.db.models import Model, Q

from jobs.models import AuthorityCheck, AuthorityPhoto, Job, JobEvent, KeyPlan, KeyWork, Photo, StepDone
from shop.append_only import erasing
from shop.keeping.days import drop_files

GONE = "Erased"
_NAMES = ("name", "address", "phone", "vin_on_car", "vin_on_papers", "lock_type", "confirmed_how", "relationship")
_EMPTY: dict[str, Any] = {
    **dict.fromkeys(_NAMES, ""),
    "document_kind": "",
    "papers": [],
    "vins_agree": None,
    "is_key_marked": None,
    "born_on": None,
    "document_number": None,
    "document_fingerprint": "",
    "signature": None,
    "is_signature_drawn": None,
    "lacked": [],
}
HOLDS_IDENTITY = (
    ~Q(**dict.fromkeys(_NAMES, ""), document_kind="", papers=[], document_fingerprint="", lacked=[])
    | Q(born_on__isnull=False)
    | Q(document_number__isnull=False)
    | Q(signature__isnull=False)
    | ~Q(reason__in=["", GONE])
)
HOLDS_KEY = (
    Q(code__isnull=False)
    | Q(known__isnull=False)
    | Q(trials__isnull=False)
    | Q(bitting__isnull=False)
    | ~Q(code_fingerprint="", where_found="")
)
_JOB = (
    "caller_name", "caller_phone", "description", "owner_name", "proof_offered", "payer_note", "purchase_order",
    "street", "access_notes", "closed_reason",
)  # fmt: skip
HOLDS_WORDS = ~Q(**dict.fromkeys(_JOB, "")) | Q(latitude__isnull=False)

# What each kind of row loses, and what is left in its place. A test holds this against the retention decisions.
OF_RECORD: dict[type[Model], dict[str, Any]] = {
    AuthorityCheck: {**_EMPTY, "reason": GONE},
    KeyWork: {
        **dict.fromkeys(("code", "known", "trials", "bitting")),
        "code_fingerprint": "",
        "where_found": "",
    },
}
OF_JOB: dict[type[Model], dict[str, Any]] = {
    Job: {**dict.fromkeys(_JOB, ""), "latitude": None, "longitude": None},
    JobEvent: {"words": "", "details": {}},
    StepDone: {"reason": "", "note": ""},
}


def empty_checks(checks: Any) -> int:
    """Makes checks anonymous and deletes their photos. That there was one, by which rule, and how it ended, stays."""
    ids = list(checks.values_list("pk", flat=True))
    delete_paper_photos(AuthorityPhoto.objects.filter(authority_check__in=ids))
    with erasing():
        found = AuthorityCheck.objects.filter(pk__in=ids)
        found.exclude(reason="").update(reason=GONE)
        return int(found.update(**_EMPTY))


def delete_paper_photos(photos: Any) -> int:
    found = drop_files(photos, "file")
    photos.delete()
    return found


def empty_key_work(works: Any) -> int:
    """Takes the key away: code, cuts, readings, trials. Counts of keys and blanks stay."""
    ids = list(works.values_list("pk", flat=True))
    KeyPlan.objects.filter(work__in=ids).delete()
    return int(KeyWork.objects.filter(pk__in=ids).update(**OF_RECORD[KeyWork]))


def delete_job_photos(photos: Any) -> int:
    found = drop_files(photos, "file")
    photos.delete()
    return found


def empty_jobs(jobs: Any) -> int:
    """Makes jobs anonymous: who called, from where, what was noted, photos. Kind of work, times and figures stay."""
    ids = list(jobs.values_list("pk", flat=True))
    delete_job_photos(Photo.objects.filter(job__in=ids))
    with erasing():
        JobEvent.objects.filter(job__in=ids).exclude(**OF_JOB[JobEvent]).update(**OF_JOB[JobEvent])
        StepDone.objects.filter(run__job__in=ids).exclude(**OF_JOB[StepDone]).update(**OF_JOB[StepDone])
    return int(Job.objects.filter(pk__in=ids).update(**OF_JOB[Job]))
