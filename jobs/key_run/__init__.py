"""Finding a job's key, step by step: what is kept of the trials, each turn of them, and what the phone shows."""

from jobs.key_run.kept import Doubt, Kept, kept_from_json, kept_to_json
from jobs.key_run.turns import begin_trials, take_turn

__all__ = ["Doubt", "Kept", "begin_trials", "kept_from_json", "kept_to_json", "take_turn"]
