"""Where in a recording the motor was started, and of what kind the start was."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from cagewise.conditioning.limits import QualityLimits
from cagewise.conditioning.start_fall import CurrentFall, find_fall
from cagewise.conditioning.start_kind import KindFound, StartKind, StartShape, is_sine, judge_kind
from cagewise.conditioning.start_level import fit_cycles
from cagewise.conditioning.start_limits import StartLimits
from cagewise.conditioning.start_runs import (
    CoarseCurrent,
    CurrentRun,
    current_runs,
    current_samples,
    with_onset,
)
from cagewise.conditioning.steady import find_steady_stretches
from cagewise.conditioning.survey import Survey, survey_recording
from cagewise.measurement import CURRENT_ROLES, LINE_VOLTAGE_ROLES, PHASE_VOLTAGE_ROLES, Recording
from cagewise.quantities import RealArray

__all__ = ["MotorStart", "StartKind", "StartLimits", "find_starts"]

SAME_LEVEL = 0.2
"""Levels before and after an interruption within this part are the same running motor: samples were
lost, or the interruption was too short to matter."""
HARDLY_CHANGED = 0.03
"""A current that changes less than this after the first cycles belongs to a rotor that stands."""
ABRUPT = 0.1
"""A fall of less than this part of the time before it comes out of a steady level: a fall of the
load, where switching on was not seen. What is left of a start falls all the time."""
INTERRUPTED_SOON = 3.0
"""An interruption within so many lengths of a start belongs to it: a change from star to delta."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MotorStart:
    """One start in a recording; indices are samples of the recording."""

    switched_on: int
    """First sample with stator current."""
    settled: int | None
    """First sample after the current fell from its starting to its running level; None when the
    record ends before, or the motor never got there."""
    stop: int
    """One past the last sample of the running part that follows: the record's end, or where the
    load changed or the motor was switched off."""
    kind: StartKind
    refused: str = ""
    """Why indicators cannot be read on this start, in one clause; empty when they can."""
    begins_before_record: bool = False
    """Current flowed at the first sample: the beginning of the start is missing."""

    def cut(self, recording: Recording) -> Recording:
        """Return the start with the running part after it, as views."""
        step = f"cut to the start at sample {self.switched_on}"
        return recording.section(self.switched_on, self.stop).with_step(step)


def find_starts(
    recording: Recording, limits: StartLimits | None = None, *, survey: Survey | None = None
) -> tuple[MotorStart, ...]:
    """Return the starts in a recording, in the order of time; empty when there is none.

    Everything is decided on the record's own levels: the starting over the running current, and the
    shape in between. One current is enough.

    Parameters
    ----------
    recording
        With at least one current role; any rate from 8 samples per cycle on.
    limits
        The defaults, if left out.
    survey
        Block values of the same recording, if they are at hand.
    """
    limits = limits or StartLimits()
    survey = survey or survey_recording(recording)
    if not survey.rows(CURRENT_ROLES):
        return ()
    coarse = CoarseCurrent.of(recording, survey)
    runs = [
        run
        for run in current_runs(recording, coarse, limits)
        if _worth_looking_at(run, coarse, limits)
    ]
    if not runs:
        return ()
    currents = current_samples(recording)
    scene = _Scene(recording, survey, coarse, currents, limits)
    starts = [start for run in runs if (start := _start_of(scene, run)) is not None]
    following = [*starts[1:], None][: len(starts)]
    return tuple(
        _unless_changed_over(start, then, scene)
        for start, then in zip(starts, following, strict=True)
    )


def _unless_changed_over(start: MotorStart, then: MotorStart | None, scene: _Scene) -> MotorStart:
    """Return a start, refused if the connection was changed over soon after it."""
    if start.refused or then is None or start.settled is None:
        return start
    length = start.settled - start.switched_on
    rest_s = (then.switched_on - start.stop) / scene.rate_hz
    soon = then.switched_on - start.switched_on < INTERRUPTED_SOON * length
    if not soon or rest_s > scene.limits.least_rest_s:
        return start
    return replace(
        start,
        kind=StartKind.NOT_KNOWN,
        refused="the motor was switched over soon after the current had fallen: a star-delta or "
        "autotransformer start at reduced voltage",
    )


@dataclass(frozen=True, slots=True)
class _Scene:
    """What all starts of a recording share."""

    recording: Recording
    survey: Survey
    coarse: CoarseCurrent
    currents: RealArray
    limits: StartLimits

    @property
    def rate_hz(self) -> float:
        """Samples per second."""
        return self.recording.sampling_rate_hz


def _worth_looking_at(run: CurrentRun, coarse: CoarseCurrent, limits: StartLimits) -> bool:
    """Return whether a run can hold a start: it begins in the record, or high above its rest."""
    if not run.begins_before_record:
        return True
    level = coarse.level[: -(-run.stop // coarse.block)]
    head = float(level[:3].max(initial=0.0))
    return head > limits.least_current_ratio * float(np.min(level[1:-1], initial=head))


def _start_of(scene: _Scene, run: CurrentRun) -> MotorStart | None:
    """Return the start with which a run begins, or None when it does not begin with one."""
    run = with_onset(run, scene.currents, scene.coarse.block, scene.coarse.cycle)
    stop = run.stop if run.ends_with_record else run.stop - scene.coarse.block
    if stop - run.first < 3 * scene.coarse.cycle or _follows_a_gap(scene, run):
        return None
    fit = fit_cycles(scene.currents[:, run.first : stop], scene.coarse.cycle)
    level = fit.level
    fall = find_fall(level, scene.limits.least_current_ratio)
    if _is_no_start(run, fall, level, scene.limits):
        return None
    last = level.size if fall.half is None else fall.half
    end = run.first + round(float(fit.centre[last - 1])) + 1
    shape = _shape(scene, run, slice(run.first, end))
    if not is_sine(shape):
        return None
    found = judge_kind(shape, scene.limits)
    settled = None
    if fall.settled is not None and found.kind is not StartKind.CONVERTER:
        settled = run.first + round(float(fit.centre[fall.settled]))
    return MotorStart(
        switched_on=run.first,
        settled=settled,
        stop=_stop(scene, run, settled, fall.running_a),
        kind=found.kind,
        refused=_refusal(scene, run, fall, found, fit.hop, level),
        begins_before_record=run.begins_before_record,
    )


def _follows_a_gap(scene: _Scene, run: CurrentRun) -> bool:
    """Return whether the samples before a run hold no numbers: nobody knows whether it was off."""
    before = scene.currents[:, max(run.first - round(scene.coarse.cycle), 0) : run.first]
    return bool(np.isnan(before).any())


def _is_no_start(run: CurrentRun, fall: CurrentFall, level: RealArray, limits: StartLimits) -> bool:
    """Return whether the current merely came back, or was there all along."""
    if run.begins_before_record:
        # the missing beginning of a start is the highest part of what is left of it
        if fall.half is None or level[:8].max() < (1.0 - SAME_LEVEL) * fall.peak_a:
            return True
        return fall.ratio < limits.least_ratio_unseen and fall.steep < ABRUPT * fall.half
    came_back = abs(fall.lowest_a - run.level_before_a) < SAME_LEVEL * run.level_before_a
    return came_back and fall.ratio < limits.least_current_ratio


def _shape(scene: _Scene, run: CurrentRun, part: slice) -> StartShape:
    """Return what the kind of a start is judged on."""
    quiet = scene.currents[:, max(part.start - scene.coarse.block, 0) : part.start]
    rest = np.zeros(scene.currents.shape[0])
    if quiet.shape[1] > 0:
        rest = np.nan_to_num(np.median(quiet, axis=1))
    currents = np.nan_to_num(scene.currents[:, part]) - rest[:, np.newaxis]
    voltages = _voltage_samples(scene.recording, part)
    cycle = scene.coarse.cycle
    return StartShape(
        currents=currents,
        cycle=cycle,
        fit=fit_cycles(currents, cycle, (1, 5, 7)),
        voltage=None if voltages is None else fit_cycles(voltages, cycle).fundamental_rms,
        begins_before_record=run.begins_before_record,
        gap_s=run.gap_s,
    )


def _voltage_samples(recording: Recording, part: slice) -> RealArray | None:
    """Return the measured voltages of a part, of one sort, shape (n_voltages, n_samples)."""
    for roles in (LINE_VOLTAGE_ROLES, PHASE_VOLTAGE_ROLES):
        section = recording.section(part.start, part.stop)
        channels = [section.find(role) for role in roles]
        given = [channel.samples for channel in channels if channel is not None]
        if given:
            return np.stack(given)
    return None


def _stop(scene: _Scene, run: CurrentRun, settled: int | None, running_a: float | None) -> int:
    """Return where the running part after a start ends: at the end of the stretch at its level.

    The last of the fall may pass for a short stretch of its own; its level is another.
    """
    if settled is None or running_a is None:
        return run.stop
    limits = QualityLimits()
    ends = [
        stretch.stop
        for stretch in find_steady_stretches(scene.recording, limits, survey=scene.survey)
        if settled < stretch.stop <= run.stop
        and abs(stretch.current_rms_a - running_a) < limits.load_step * running_a
    ]
    return min(ends, default=run.stop)


def _refusal(
    scene: _Scene,
    run: CurrentRun,
    fall: CurrentFall,
    found: KindFound,
    hop: int,
    level: RealArray,
) -> str:
    """Return why a start cannot be read, the most telling reason; empty when it can."""
    clipped = _clipped(scene, run, fall, hop)
    if found.refused or clipped:
        return found.refused or clipped
    if fall.half is None or fall.at_speed is None or fall.settled is None:
        return _never_settled(run, fall, level, hop / scene.rate_hz)
    if fall.again:
        return (
            "the current rose once more to its starting level soon after it had fallen: "
            "star-delta, autotransformer, or switched on again"
        )
    if run.begins_before_record and fall.ratio < scene.limits.least_ratio_unseen:
        return (
            f"the record begins with the current already flowing and it falls only by a factor of "
            f"{fall.ratio:.1f}: the end of a start, or a fall of the load"
        )
    return _too_short(scene, run, fall.at_speed * hop)


def _too_short(scene: _Scene, run: CurrentRun, samples: int) -> str:
    """Return whether a start is too short or began with a turning rotor."""
    cycles, least = samples / scene.coarse.cycle, scene.limits.least_cycles
    turning = run.level_before_a > 0.0 and run.rest_s < scene.limits.least_rest_s
    if run.begins_before_record and cycles < least:
        return (
            f"only {cycles:.0f} cycles of the start are in the record and at least {least:.0f} are "
            "needed: it begins too late, a longer pre-trigger is wanted"
        )
    if cycles < least and not turning:
        return (
            f"the current fell to its running level within {cycles:.1f} cycles and at least "
            f"{least:.0f} are needed: too short to show the cage"
        )
    if turning:
        return (
            f"the motor was switched on again {run.rest_s:.2g} s after it had been running: the "
            "rotor was still turning, this is an inrush and no start from rest"
        )
    return ""


def _never_settled(run: CurrentRun, fall: CurrentFall, level: RealArray, hop_s: float) -> str:
    """Return the reason when the running level was not reached."""
    length_s = level.size * hop_s
    settled = level[min(16, level.size - 1) :]
    stands = fall.half is None and float(np.ptp(settled)) < HARDLY_CHANGED * fall.peak_a
    state = "still at its starting level" if fall.half is None else "still falling"
    if stands:
        state = (
            "unchanged since switching on: a rotor that stands (stalled), or a start much longer "
            "than that"
        )
    since = "after its beginning" if run.begins_before_record else "after switching on"
    if run.ends_with_record:
        return f"the record ends {length_s:.2g} s {since} with the current {state}"
    return f"the motor was switched off after {length_s:.2g} s with the current {state}"


def _clipped(scene: _Scene, run: CurrentRun, fall: CurrentFall, hop: int) -> str:
    """Return which currents exceed the range of the recorder during the start."""
    end = run.stop if fall.half is None else run.first + fall.half * hop
    names = []
    for row in scene.survey.rows(CURRENT_ROLES):
        inspection = scene.survey.inspections[row]
        if inspection is None:
            continue
        tops = inspection.flat_tops(scene.coarse.cycle).overlapping(run.first, end)
        if tops.length.size:
            names.append(scene.recording.channels[row].name)
    if not names:
        return ""
    return (
        f"the starting current exceeds the range of the recorder ({', '.join(names)}: tops cut "
        "off), so its level and its lines are wrong: use a larger range"
    )
