"""Every write on calls, jobs and visits."""

from jobs.actions.authority import (
    CheckFacts,
    allow_exception,
    ask_exception,
    decline_exception,
    keep_paper_photo,
    pass_check,
    turn_away,
)
from jobs.actions.calls import change_job, close_job, drop_draft, keep_draft, reopen_job, take_call
from jobs.actions.openings import open_guarded
from jobs.actions.parts import spoil_part, take_back_part, use_part
from jobs.actions.record_rules import choose_rule, copy_rule, edit_rule
from jobs.actions.records import add_note, add_photo, record_vin
from jobs.actions.travel import arrive, correct_times, finish_visit, set_off, turn_back
from jobs.actions.visits import book_visit, move_visit, unbook_visit

__all__ = [
    "CheckFacts",
    "add_note",
    "add_photo",
    "allow_exception",
    "arrive",
    "ask_exception",
    "book_visit",
    "change_job",
    "choose_rule",
    "close_job",
    "copy_rule",
    "correct_times",
    "decline_exception",
    "drop_draft",
    "edit_rule",
    "finish_visit",
    "keep_draft",
    "keep_paper_photo",
    "move_visit",
    "open_guarded",
    "pass_check",
    "record_vin",
    "reopen_job",
    "set_off",
    "spoil_part",
    "take_back_part",
    "take_call",
    "turn_away",
    "turn_back",
    "unbook_visit",
    "use_part",
]
