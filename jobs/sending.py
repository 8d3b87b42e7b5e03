"""Names of the tasks of this app that actions send."""

from vehicles.sending import send

PLAN_KEY_TRIALS = "jobs.plan_key_trials"

__all__ = ["PLAN_KEY_TRIALS", "send"]
