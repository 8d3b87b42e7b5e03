"""What came of earlier work on a family: how many jobs, how many first time, how long, what went wrong, who did it."""

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from statistics import median
from typing import Any

from django.db.models import Exists, OuterRef

from jobs.models import Job, ProcedureRun, RunOutcome, Visit
from jobs.states import JobState, VisitState

# The newest of these tell enough, and keep the page quick after years.
MOST_VISITS, MOST_RUNS = 400, 200
MINUTE = timedelta(minutes=1)
# A job that took so many times the usual is told, and why.
LONG = 1.5
TROUBLES_SHOWN = 3


@dataclass
class PastJob:
    """One finished job: minutes on site over all its visits, and whether one visit was enough and nobody came back."""

    number: int
    finished_at: datetime
    minutes: float = 0
    visits: int = 0
    came_back: bool = False
    technicians: set[str] = field(default_factory=set)

    @property
    def is_first_time(self) -> bool:
        return self.visits == 1 and not self.came_back


@dataclass(frozen=True)
class PastRun:
    """One ended run of a procedure."""

    job_id: int
    worked: bool
    why: str
    variant: str
    procedure: str
    technician: str
    minutes: float


@dataclass(frozen=True)
class Group:
    """A row of the table: how often it worked, and usual minutes."""

    name: str
    jobs: int
    good: int
    minutes: int


@dataclass(frozen=True)
class FamilyHistory:
    """`usual` is the median of minutes on site; `longest` is set where a job took far longer, `because` says why.

    `groups` are tables by title; `troubles` the newest reasons why it did not work.
    """

    jobs: int
    first_time: int = 0
    usual: int = 0
    last_at: datetime | None = None
    longest: int = 0
    because: str = ""
    troubles: tuple[str, ...] = ()
    groups: tuple[tuple[str, tuple[Group, ...]], ...] = ()


def load_history(family_id: int, kind: str = "") -> FamilyHistory:
    """The history of a family, of one kind of work if given; two queries, both by index."""
    jobs = _past_jobs(family_id, kind)
    runs = _past_runs(family_id, kind)
    if not jobs:
        return FamilyHistory(0, troubles=_troubles(runs), groups=_groups(jobs, runs))
    for run in runs:
        if not run.worked and run.job_id in jobs:
            jobs[run.job_id].came_back = True
    usual = median(job.minutes for job in jobs.values())
    longest_id = max(jobs, key=lambda each: jobs[each].minutes)
    is_long = len(jobs) > 1 and jobs[longest_id].minutes > LONG * usual
    return FamilyHistory(
        jobs=len(jobs),
        first_time=sum(job.is_first_time for job in jobs.values()),
        usual=round(usual),
        last_at=max(job.finished_at for job in jobs.values()),
        longest=round(jobs[longest_id].minutes) if is_long else 0,
        because=next((run.why for run in runs if run.job_id == longest_id and run.why), "") if is_long else "",
        troubles=_troubles(runs),
        groups=_groups(jobs, runs),
    )


def _past_jobs(family_id: int, kind: str) -> dict[int, PastJob]:
    visits: Any = Visit.objects.filter(
        job__vehicle__family=family_id,
        job__state=JobState.FINISHED,
        job__comeback_of=None,
        state=VisitState.FINISHED,
        arrived_at__isnull=False,
        finished_at__isnull=False,
    )
    if kind:
        visits = visits.filter(job__kind_of_work=kind)
    rows = visits.order_by("-finished_at", "-id").values_list(
        "job_id", "job__number", "arrived_at", "finished_at", "technician__name",
        Exists(Job.objects.filter(comeback_of=OuterRef("job"))),
    )[:MOST_VISITS]  # fmt: skip
    found: dict[int, PastJob] = {}
    for job_id, number, arrived, finished, technician, came_back in rows:
        job = found.setdefault(job_id, PastJob(number, finished, came_back=came_back))
        job.minutes += (finished - arrived) / MINUTE
        job.visits += 1
        job.technicians.add(technician)
    return found


def _past_runs(family_id: int, kind: str) -> list[PastRun]:
    runs: Any = ProcedureRun.objects.filter(family=family_id, ended_at__isnull=False)
    if kind:
        runs = runs.filter(job__kind_of_work=kind)
    runs = runs.select_related("version__procedure", "variant", "started_by").order_by("-started_at", "-id")
    return [
        PastRun(
            run.job_id,
            run.outcome == RunOutcome.WORKED,
            run.why,
            run.variant.name if run.variant else "",
            f"{run.version.procedure.get_kind_of_work_display()}, version {run.version.number}",
            run.started_by.name if run.started_by else "",
            (run.ended_at - run.started_at) / MINUTE,
        )
        for run in runs[:MOST_RUNS]
    ]


def _troubles(runs: Iterable[PastRun]) -> tuple[str, ...]:
    told = dict.fromkeys(run.why for run in runs if not run.worked and run.why)
    return tuple(told)[:TROUBLES_SHOWN]


def _groups(jobs: dict[int, PastJob], runs: list[PastRun]) -> tuple[tuple[str, tuple[Group, ...]], ...]:
    people: defaultdict[str, list[PastJob]] = defaultdict(list)
    for job in jobs.values():
        for name in job.technicians:
            people[name].append(job)
    by_person = [
        Group(name, len(done), sum(job.is_first_time for job in done), round(median(job.minutes for job in done)))
        for name, done in people.items()
    ]
    tables = [
        ("Variant", _runs_by(runs, lambda run: run.variant or "Not told")),
        ("Procedure", _runs_by(runs, lambda run: run.procedure)),
        ("Technician", sorted(by_person, key=lambda each: (-each.jobs, each.name))),
    ]
    return tuple((title, tuple(rows)) for title, rows in tables if rows)


def _runs_by(runs: Iterable[PastRun], name_of: Callable[[PastRun], str]) -> list[Group]:
    found: defaultdict[Hashable, list[PastRun]] = defaultdict(list)
    for run in runs:
        found[name_of(run)].append(run)
    groups = [
        Group(str(name), len(done), sum(run.worked for run in done), round(median(run.minutes for run in done)))
        for name, done in found.items()
    ]
    return sorted(groups, key=lambda each: (-each.jobs, each.name))
