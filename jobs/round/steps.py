"""The one next step of a visit."""

from dataclasses import dataclass

from jobs.states import VisitState


@dataclass(frozen=True, slots=True)
class Step:
    """What to do next: the word on the button and the route it goes to; `is_link` when it opens a page."""

    label: str
    route: str
    is_link: bool = False


STEPS: dict[str, Step] = {
    VisitState.BOOKED: Step("Set off", "jobs:set_off"),
    VisitState.ON_THE_WAY: Step("Arrive", "jobs:arrive"),
    VisitState.ON_SITE: Step("Finish", "billing:finish", is_link=True),
    VisitState.FINISHED: Step("Hand over", "billing:handover", is_link=True),
}
CHECK = Step("Check authority", "jobs:authority", is_link=True)
MAKE_KEY = Step("Make the key", "jobs:key", is_link=True)


def next_step(state: str, *, is_check_due: bool, is_key_due: bool = False) -> Step | None:
    """The next step of a visit; on site, who may have the key comes before the key, and the key before the finish."""
    if state != VisitState.ON_SITE:
        return STEPS.get(state)
    return CHECK if is_check_due else MAKE_KEY if is_key_due else STEPS[state]
