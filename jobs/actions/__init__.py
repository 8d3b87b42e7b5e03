"""Every write on calls, jobs and visits."""

from jobs.actions.calls import change_job, close_job, drop_draft, keep_draft, reopen_job, take_call
from jobs.actions.parts import spoil_part, take_back_part, use_part
from jobs.actions.records import add_note, add_photo, record_vin
from jobs.actions.travel import arrive, correct_times, finish_visit, set_off, turn_back
from jobs.actions.visits import book_visit, move_visit, unbook_visit

__all__ = [
    "add_note",
    "add_photo",
    "arrive",
    "book_visit",
    "change_job",
    "close_job",
    "correct_times",
    "drop_draft",
    "finish_visit",
    "keep_draft",
    "move_visit",
    "record_vin",
    "reopen_job",
    "set_off",
    "spoil_part",
    "take_back_part",
    "take_call",
    "turn_back",
    "unbook_visit",
    "use_part",
]
