"""What each action leads to, on a sound motor and on a defective one.

Every action is a course of further visits, each of which may find the defect, and of a repair some
time after the finding. What it costs follows from two numbers: what is spent if the motor is sound,
and the chance that the cage fails before it is repaired if it is not
(docs/theory/decision-costs.md, sections 3 and 4).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum

from cagewise.decision.costs_hazard import Hazard
from cagewise.decision.costs_limits import CostLimits
from cagewise.decision.limits import DecisionLimits
from cagewise.machine.motor import Criticality

NEGLIGIBLE = 1e-9
"""Chance that a defect is still not found after so many visits, beyond which they are not counted:
far below the digits that are shown."""


class CostAction(StrEnum):
    """What can be done with the motor, from the most lenient to the strictest."""

    KEEP = "keep"
    """Keep it in service and measure at the routine interval."""
    WATCH = "watch"
    """Keep it in service and measure at a shorter interval until enough quiet records stand."""
    REPEAT = "repeat"
    """Measure once more, better; plan the repair if that finds the defect, else back to routine."""
    PLAN_REPAIR = "plan_repair"
    """Take the motor out in a planned stop, by a date."""
    STOP = "stop"
    """Take it out of service at once; the site's engineer decides."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measurement:
    """A further measurement, hypothetical: how often it is right and what it costs."""

    detection: float
    """Chance that it shows a defect that is there."""
    false_calls: float
    """Chance that it calls a sound motor defective."""
    part: float
    """Its cost over that of pulling a sound motor."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Calendar:
    """Days, counted from the measurement."""

    routine_days: float
    """Interval of routine records."""
    watch_days: float
    """Interval of a motor under watch."""
    repeat_days: float
    """Day by which a better measurement stands."""
    notice_days: float
    """Least time between finding a defect and repairing it."""
    repair_days: float
    """Time from finding a defect to its repair in a stop made for it."""
    outage_days: float | None
    """Day of the planned outage; None when there is none that can be used."""

    def outage_serves(self, found_days: float, *, wait: bool) -> bool:
        """Return whether a defect found on this day is repaired in the outage.

        It is if there is notice enough and the outage comes no later than the repair would
        otherwise, or at any later time with ``wait``.
        """
        if self.outage_days is None or self.outage_days < found_days + self.notice_days:
            return False
        return wait or self.outage_days <= found_days + self.repair_days


@dataclass(frozen=True, slots=True, kw_only=True)
class Policy:
    """One action; costs in units of pulling a sound motor in a stop made for it."""

    action: CostAction
    days: float
    """KEEP and WATCH: interval; REPEAT and PLAN_REPAIR: by that day; STOP: none."""
    at_outage: bool
    """Whether PLAN_REPAIR takes place in the planned outage."""
    if_sound: float
    """Measurements and unnecessary pulls on a sound motor."""
    if_defective: float
    """Measurements on a defective motor, and what its repair costs more than the cheapest repair
    would; the consequence of a failure is not in it."""
    failure_chance: float
    """Chance that a defective cage fails in service before it is repaired."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """What the actions are laid out for."""

    calendar: Calendar
    hazard: Hazard
    visit: Measurement
    """One more ordinary record."""
    better: Measurement
    """The better measurement that REPEAT makes."""
    watch_visits: int
    """Quiet records after which a motor under watch returns to routine."""
    outage_part: float
    """Cost of pulling in the outage over that in a stop made for it."""
    stop_factor: float
    """Cost of stopping at once over that in a stop made for it."""
    wait: bool = False
    """Whether repairs wait for the outage although it comes later than a stop made for them."""

    @property
    def cheapest_pull(self) -> float:
        """Cost of the cheapest repair that is to be had."""
        return 1.0 if self.calendar.outage_days is None else min(1.0, self.outage_part)

    def pull(self, found_days: float) -> tuple[float, float]:
        """Return day and cost of the repair of a defect found on this day."""
        calendar = self.calendar
        served = calendar.outage_serves(found_days, wait=self.wait)
        if served and calendar.outage_days is not None:
            return calendar.outage_days, self.outage_part
        return found_days + calendar.repair_days, 1.0


def calendar_of(
    criticality: Criticality, measured_on: date | None, limits: CostLimits, windows: DecisionLimits
) -> Calendar:
    """Return the days that go with this motor; intervals are those of the rule of windows."""
    notice_days, repair_days = _window(windows, "defective", criticality.level)
    _, routine_days = _window(windows, "sound", criticality.level)
    _, repeat_days = _window(windows, "suspect", criticality.level)
    outage_days = None
    if criticality.next_outage is not None and measured_on is not None:
        days = (date.fromisoformat(criticality.next_outage) - measured_on).days
        outage_days = float(days) if days >= notice_days else None
    return Calendar(
        routine_days=routine_days,
        watch_days=limits.watch_part * routine_days,
        repeat_days=repeat_days,
        notice_days=notice_days,
        repair_days=repair_days,
        outage_days=outage_days,
    )


def _window(windows: DecisionLimits, state: str, level: str) -> tuple[float, float]:
    """Return earliest and latest day of the rule."""
    earliest, latest = getattr(windows, f"{state}_{level}_days")
    return float(earliest), float(latest)


def policies(setting: Setting, *, stop_allowed: bool) -> tuple[Policy, ...]:
    """Return every action, from the most lenient to the strictest.

    Where there is an outage each comes twice: repairs wait for it, or do not.
    """
    settings = [setting]
    if setting.calendar.outage_days is not None:
        settings.append(replace(setting, wait=True))
    made = [course(s) for course in (_keep, _watch, _repeat, _plan) for s in settings]
    return (*made, _stop(setting)) if stop_allowed else tuple(made)


def _keep(setting: Setting) -> Policy:
    """Return routine; what routine costs on a sound motor is common to all actions."""
    extra, failure = _found_in_visits(setting, _routine(setting, 0.0))
    return Policy(
        action=CostAction.KEEP,
        days=setting.calendar.routine_days,
        at_outage=False,
        if_sound=0.0,
        if_defective=extra,
        failure_chance=failure,
    )


def _watch(setting: Setting) -> Policy:
    """Return some records at a short interval, then routine."""
    days = [setting.calendar.watch_days * k for k in range(1, setting.watch_visits + 1)]
    course = [(day, setting.visit.detection) for day in days]
    extra, failure = _found_in_visits(setting, (*course, *_routine(setting, days[-1])))
    false_calls, still_quiet = 0.0, 1.0
    for day in days:
        false_calls += still_quiet * setting.visit.false_calls * setting.pull(day)[1]
        still_quiet *= 1.0 - setting.visit.false_calls
    measuring = setting.watch_visits * setting.visit.part
    return Policy(
        action=CostAction.WATCH,
        days=setting.calendar.watch_days,
        at_outage=False,
        if_sound=measuring + false_calls,
        if_defective=measuring + extra,
        failure_chance=failure,
    )


def _repeat(setting: Setting) -> Policy:
    """Return one better measurement; its result is obeyed."""
    day, better = setting.calendar.repeat_days, setting.better
    course = ((day, better.detection), *_routine(setting, day))
    extra, failure = _found_in_visits(setting, course)
    return Policy(
        action=CostAction.REPEAT,
        days=day,
        at_outage=False,
        if_sound=better.part + better.false_calls * setting.pull(day)[1],
        if_defective=better.part + extra,
        failure_chance=failure,
    )


def _plan(setting: Setting) -> Policy:
    """Return taking the motor out as if the defect had been found today."""
    days, pull = setting.pull(0.0)
    return Policy(
        action=CostAction.PLAN_REPAIR,
        days=days,
        at_outage=days == setting.calendar.outage_days,
        if_sound=pull,
        if_defective=pull - setting.cheapest_pull,
        failure_chance=1.0 - setting.hazard.survival(days),
    )


def _stop(setting: Setting) -> Policy:
    """Return taking the motor out at once."""
    return Policy(
        action=CostAction.STOP,
        days=0.0,
        at_outage=False,
        if_sound=setting.stop_factor,
        if_defective=setting.stop_factor - setting.cheapest_pull,
        failure_chance=0.0,
    )


def _routine(setting: Setting, after_days: float) -> Iterator[tuple[float, float]]:
    """Yield day and detection of routine records until hardly any defect can be left."""
    missed, visit = 1.0, 0
    while missed > NEGLIGIBLE:
        visit += 1
        missed *= 1.0 - setting.visit.detection
        yield after_days + visit * setting.calendar.routine_days, setting.visit.detection


def _found_in_visits(
    setting: Setting, course: Iterable[tuple[float, float]]
) -> tuple[float, float]:
    """Return extra cost of the repair, and chance of a failure before it.

    ``q = 1 - sum_k d_k prod_{j<k} (1 - d_j) S(repair after visit k)``; a visit to a motor that has
    failed meanwhile counts for nothing because survival to the repair implies survival to it.
    """
    not_found, repaired, extra = 1.0, 0.0, 0.0
    for found_days, detection in course:
        repair_days, pull = setting.pull(found_days)
        chance = not_found * detection * setting.hazard.survival(repair_days)
        repaired += chance
        extra += chance * (pull - setting.cheapest_pull)
        not_found *= 1.0 - detection
    return extra, 1.0 - repaired
