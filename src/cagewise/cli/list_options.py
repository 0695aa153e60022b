"""The options of lists of motors: which, how many, in which order."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from cyclopts import Parameter

from cagewise.errors import UsageError

if TYPE_CHECKING:
    from cagewise.workflows.plant_choice import Wanted

Order = Literal["risk", "due", "bars", "motor"]


@Parameter(name="*")
@dataclass(frozen=True, slots=True, kw_only=True)
class ListOptions:
    """Which motors a list shows."""

    state: list[str] = field(default_factory=list)
    """Only motors of which cage, winding or insulation is sound, suspect, defective,
    not-decidable, not-examined or (the cage) repaired and not measured since. Repeatable."""
    due: bool = False
    """Only what is due on that day, the longest overdue first."""
    sort: Order | None = None
    """What comes first: the greatest risk, what is due, the most open bars, or the tag."""
    most: int | None = None
    """Motors that are shown."""

    def wanted(self) -> Wanted:
        """Return what is asked for.

        Raises
        ------
        UsageError
            If there is no such state, or the number of motors makes no sense.
        """
        from cagewise.workflows.plant_choice import STATES, ListOrder, Wanted

        if self.most is not None and self.most < 1:
            raise UsageError(f"must be one or more motors, got {self.most}", where="--most")
        asked = {each: " ".join(each.casefold().replace("-", " ").split()) for each in self.state}
        for given, state in asked.items():
            if state not in STATES:
                raise UsageError(
                    f"there is no state {given!r}",
                    where="--state",
                    remedy=f"One of {', '.join(name.replace(' ', '-') for name in STATES)}.",
                )
        return Wanted(
            states=frozenset(asked.values()),
            due=self.due,
            order=None if self.sort is None else ListOrder(self.sort),
        )
