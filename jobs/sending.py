"""Names of the tasks of this app that actions send."""

from vehicles.sending import send

MAKE_EXPORT = "jobs.make_export"
PLAN_KEY_TRIALS = "jobs.plan_key_trials"

__all__ = ["MAKE_EXPORT", "PLAN_KEY_TRIALS", "send"]
