"""What the shop's knowledge of vehicles refuses, in words fit to show."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from shop.errors import Refused
from vehicles.procedure_content import Fault

if TYPE_CHECKING:
    from vehicles.models import ProcedureVersion


class NotAProcedure(Refused):
    """Steps or figures that make no procedure; `faults` says where."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        super().__init__(" ".join(map(str, faults)), field=faults[0].field)
        self.faults = tuple(faults)


class ChangedMeanwhile(Refused):
    """Others proposed or accepted `versions` since the author began."""

    def __init__(self, versions: "Sequence[ProcedureVersion]") -> None:
        told = ", ".join(
            f"version {each.number} by {each.proposed_by}, {each.get_state_display().lower()}"
            + (f", based on version {each.based_on.number}" if each.based_on else "")
            for each in versions
        )
        super().__init__(f"Meanwhile there came {told}. Look at what changed, then propose all the same.")
        self.versions = tuple(versions)
