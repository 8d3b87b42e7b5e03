"""Leave to open guarded values: what, and under which record of opening."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Permit:
    """Opens values of `kinds` (such as "jobs.keywork.code"). `opening` names the record that was written for it.

    Made in one place only, the action that writes the record; a test looks for others.
    """

    kinds: frozenset[str]
    opening: str
