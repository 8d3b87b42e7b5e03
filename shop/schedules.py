"""Every scheduled task of the program and how often it is called; nightly work looks at the shop's own clock."""

from celery.schedules import schedule

SCHEDULES: dict[str, dict[str, object]] = {
    "make-waiting-papers": {
        "task": "billing.make_waiting_papers",
        "schedule": schedule(run_every=60),
        "options": {"expires": 55},
    },
    "carry-on-key-work": {
        "task": "vehicles.carry_on",
        "schedule": schedule(run_every=60),
        "options": {"expires": 55},
    },
    "carry-on-key-plans": {
        "task": "jobs.carry_on_key_plans",
        "schedule": schedule(run_every=60),
        "options": {"expires": 55},
    },
    "carry-on-exports": {
        "task": "jobs.carry_on_exports",
        "schedule": schedule(run_every=60),
        "options": {"expires": 55},
    },
    # These do their work once a night, the first time they are called after three o'clock in the shop.
    "keep-night": {
        "task": "jobs.keep_night",
        "schedule": schedule(run_every=900),
        "options": {"expires": 890},
    },
    "learn-times": {
        "task": "billing.learn_times",
        "schedule": schedule(run_every=900),
        "options": {"expires": 890},
    },
}
