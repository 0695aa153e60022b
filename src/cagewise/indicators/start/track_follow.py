"""The wave on the track of a start: searched where the slip is unsure, followed where found."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from cagewise.indicators.start.slip_track import SlipTrack
from cagewise.indicators.start.track_expectation import WaveTemplate, wave_template
from cagewise.indicators.start.track_limits import StartTrackLimits
from cagewise.indicators.start.track_signals import StartSignals
from cagewise.indicators.start.track_strength import TrackStrength
from cagewise.indicators.start.track_windows import Courses, TrackWindows, read_windows
from cagewise.machine.motor import Motor
from cagewise.quantities import NotKnown, RealArray

OFFSET_ERROR_HZ = 0.5
"""Standard deviation of the wave's frequency in one window beside noise: its phase turns with the
circuit's error as the slip changes, and with the number of bars."""
SHARP = 0.25
"""Deviation of the track from the wave, in units of one over the length of a window, up to which a
single track is read: the window passes 96 % of the wave there."""
SEARCHED = 2.0
"""Otherwise tracks are searched up to this many deviations of the slip on either side."""
SPACING = 1.2
"""Their distance in the same units: half way the window passes 78 % of the wave."""
FOLLOWED = 2
"""Corrections of the track once a wave is found on it."""
LEFT_AFTER_FOLLOWING = 0.25
"""Part of the track's uncertainty that may be left: the course is corrected as a whole, not at
every slip."""
STRONG = 2.0
"""A window shows a wave when it is this much above its floor (amplitude)."""


@dataclass(frozen=True, kw_only=True)
class FollowedTrack:
    """The track that was read."""

    slip: RealArray
    """Its slip, shape of ``SlipTrack.time_s``."""
    strength: TrackStrength
    slip_error: float
    """Half width of the slip's 95 % interval, before a wave was followed; median of the windows."""


class TrackFollower:
    """Reads the wave along the slip of one start."""

    def __init__(
        self, signals: StartSignals, track: SlipTrack, motor: Motor, limits: StartTrackLimits
    ) -> None:
        self._signals, self._track, self._motor = signals, track, motor
        self._limits = limits
        self._low, self._high = track.interval()
        self._spread = np.asarray(np.std(track.draws, axis=1))
        self._template: WaveTemplate = wave_template(motor, track.circuit, signals.frequency_hz)

    def followed(self) -> FollowedTrack | NotKnown:
        """Return the track on which most stands, corrected to the wave where one is found."""
        strongest = self._searched()
        if isinstance(strongest, NotKnown):
            return strongest
        slip, strength = strongest
        found = strength.false_alarm_probability <= self._limits.false_alarm_probability
        for _ in range(FOLLOWED if found else 0):
            slip = self._settled_on(strength, slip)
            windows = self._windows(slip)
            if isinstance(windows, NotKnown):
                return windows
            strength = TrackStrength.of(windows, strength.cells)
        refused = self._why_not_followed(strength.windows) if found else ""
        if refused:
            return NotKnown(refused)
        error = self._slip_error(strength.windows)
        return FollowedTrack(slip=slip, strength=strength, slip_error=float(np.median(error)))

    def _searched(self) -> tuple[RealArray, TrackStrength] | NotKnown:
        """Return the slip of the track on which most stands, and what does.

        One track where the slip is sure enough for the windows, else as many as leave no gap.
        """
        middle = self._windows(self._track.median)
        if isinstance(middle, NotKnown):
            return middle
        spread = self._spread
        at = np.median(np.interp(middle.time_s, self._track.time_s, spread))
        blur = float(2.0 * self._signals.frequency_hz * at * middle.length_s)
        beside = 0 if blur <= SHARP else math.ceil(SEARCHED * blur / SPACING)
        shifts = np.linspace(-SEARCHED, SEARCHED, 2 * beside + 1) if beside else np.zeros(1)
        left = 0.5 * blur * SEARCHED / beside if beside else blur
        best: tuple[RealArray, TrackStrength] | None = None
        for shift in shifts:
            slip = np.asarray(self._track.median + shift * spread)
            windows = self._windows(slip)
            if isinstance(windows, NotKnown):
                continue
            strength = TrackStrength.of(windows, shifts.size, left)
            if best is None or strength.excess > best[1].excess:
                best = slip, strength
        return best if best is not None else NotKnown("no track could be read")

    def _windows(self, slip: RealArray) -> TrackWindows | NotKnown:
        """Return the windows along a slip that can be believed."""
        limits = self._limits
        pole_pairs = self._motor.nameplate.pole_pairs
        courses = Courses.along(self._signals, slip, self._track, self._template, pole_pairs)
        windows = read_windows(courses, limits.lowest_slip, limits.highest_slip)
        if windows is None:
            return NotKnown("no part of this start lets the wave stand clear of the fundamental")
        error = self._slip_error(windows)
        if np.median(error) > limits.largest_slip_error:
            return NotKnown(
                f"the slip during the start is known within {np.median(error):.3f} only, and "
                f"{limits.largest_slip_error:.3f} is needed"
            )
        return windows

    def _slip_error(self, windows: TrackWindows) -> RealArray:
        """Return the half width of the slip's interval at the windows."""
        half = 0.5 * (self._high - self._low)
        return np.interp(windows.time_s, self._track.time_s, half)

    def _settled_on(self, strength: TrackStrength, slip: RealArray) -> RealArray:
        """Return the slip moved, within its own spread, to where a wave that was found stands."""
        windows, spread = strength.windows, self._spread
        at = np.interp(windows.time_s, self._track.time_s, spread)
        missing = -windows.offset_hz / (2.0 * self._signals.frequency_hz)
        sd = OFFSET_ERROR_HZ / (2.0 * self._signals.frequency_hz)
        limit = self._limits.largest_slip_error
        strong = np.abs(windows.wave) > STRONG * windows.floor
        weights = strength.weights * strong * (np.abs(missing) < limit) / sd**2
        step = np.sum(weights * missing * at) / (1.0 + np.sum(weights * at**2))
        return np.asarray(slip + np.clip(step, -2.0, 2.0) * spread)

    def _why_not_followed(self, windows: TrackWindows) -> str:
        """Return why a wave that is there is not that of a cage; empty if it may be."""
        limits = self._limits
        size = np.abs(windows.wave)
        uncertain = 2.0 * self._signals.frequency_hz * self._slip_error(windows)
        allowed = limits.largest_offset_hz + LEFT_AFTER_FOLLOWING * uncertain
        part = float(
            np.mean((size > STRONG * windows.floor) & (np.abs(windows.offset_hz) <= allowed))
        )
        if part < limits.least_track_part:
            return (
                f"something stands near the track, but on it in {100 * part:.0f} % of the start "
                "only"
            )
        mirror = windows.mirror / size
        told = np.isfinite(mirror)
        if np.any(told) and float(np.median(mirror[told])) > limits.largest_mirror:
            return "the wave has a mirror image: it is in one current channel, not in the motor"
        return ""
