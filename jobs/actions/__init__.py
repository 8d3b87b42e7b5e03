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
from jobs.actions.estimates import store_estimates
from jobs.actions.key_final import give_leave, record_final_key, spoil_final_key
from jobs.actions.key_trials import answer_trial, choose_trial_blank, discard_trial_blank, undo_answer
from jobs.actions.keywork import choose_system, record_code, record_known_cuts, record_readings, use_earlier_key
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
    "answer_trial",
    "arrive",
    "ask_exception",
    "book_visit",
    "change_job",
    "choose_rule",
    "choose_system",
    "choose_trial_blank",
    "close_job",
    "copy_rule",
    "correct_times",
    "decline_exception",
    "discard_trial_blank",
    "drop_draft",
    "edit_rule",
    "finish_visit",
    "give_leave",
    "keep_draft",
    "keep_paper_photo",
    "move_visit",
    "open_guarded",
    "pass_check",
    "record_code",
    "record_final_key",
    "record_known_cuts",
    "record_readings",
    "record_vin",
    "reopen_job",
    "set_off",
    "spoil_final_key",
    "spoil_part",
    "store_estimates",
    "take_back_part",
    "take_call",
    "turn_away",
    "turn_back",
    "unbook_visit",
    "undo_answer",
    "use_earlier_key",
    "use_part",
]
