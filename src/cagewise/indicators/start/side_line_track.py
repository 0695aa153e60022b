"""The side line |1 - 2s| f during a direct start: the backward wave of a damaged cage.

A cage that is not symmetrical answers the starting field with a backward wave that the stator sees
at (1 - 2s) f: at -f when the motor stands, at 0 at half speed, near f when it runs. The slip comes
from the record itself, the wave is read along it beside all else that a start makes, and the
motor's physics turns it into open bars. Derivation, validity and tests: docs/theory/start-track.md.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from cagewise.conditioning.starts import MotorStart, StartKind
from cagewise.indicators.reading import IndependenceClass, Method, Reading
from cagewise.indicators.start.slip_track import N_DRAWS, SlipTrack, track_slip
from cagewise.indicators.start.track_follow import FollowedTrack, TrackFollower
from cagewise.indicators.start.track_limits import StartTrackLimits
from cagewise.indicators.start.track_refusals import why_not_direct, why_not_tried
from cagewise.indicators.start.track_signals import StartSignals, start_signals
from cagewise.indicators.start.track_strength import TrackBars, track_bars
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.motor import Motor
from cagewise.measurement import Recording
from cagewise.quantities import NotKnown, RealArray

__all__ = ["StartTrack", "StartTrackLimits", "TrackFigure", "read_side_line_track"]

NAME = "start_side_line_track"
TITLE = "side line |1 - 2s| f during the start"

HIDDEN = (
    "Bars 90 electrical degrees apart cancel in this wave (kernel K2): two of them read as less "
    "than a tenth of a bar."
)
CRACKS = (
    "Open bars are counted: a crack that leaves a bar carrying reads lower here than on the "
    "running motor, because at the start the bar's reactance outweighs its resistance."
)
DISPLACED = (
    "Displaced current and saturated leakage enter through the admittance of this start only; "
    "currents between bars through the iron, which weaken the wave, are not modelled."
)
NOT_BARS = (
    "An oval rotor and a repaired or porous cage make the same wave: it says unequal, not why. "
    "Axial ducts read as a quarter of a bar at most, because the cage shields them (simulated)."
)
NO_VOLTAGE = (
    "Without voltages the supply was taken as stiff and its frequency as the rated or running one: "
    "the slip is less sure."
)
ONE_CURRENT = (
    "With a single current only slips below one half are read, and a disturbance of that channel "
    "is not told from a wave."
)
KIND_UNKNOWN = "That the start was direct is taken from the steadiness of the record, not known."


@dataclass(frozen=True, kw_only=True)
class TrackFigure:
    """Arrays for a figure; ratios are per unit of the fundamental current."""

    time_s: RealArray
    """From the record's first sample, shape (n,)."""
    slip: RealArray
    """Of the track that was read; where none stood out, the strongest of those searched."""
    slip_low: RealArray
    slip_high: RealArray
    """Ends of the 95 % interval of the slip before anything was looked for on its track."""
    window_time_s: RealArray
    """Centres of the windows from the record's first sample, shape (n_windows,)."""
    window_slip: RealArray
    ratio: RealArray
    """|wave| over |fundamental| as read."""
    floor: RealArray
    """The same with no wave there (one standard deviation)."""
    expected_one: RealArray
    """Expected of one open bar."""
    expected_two: RealArray
    """Expected of two adjacent open bars."""


@dataclass(frozen=True, kw_only=True)
class StartTrack:
    """The side line of one start."""

    reading: Reading
    figure: TrackFigure | None = None
    """None when the reading is not valid."""


def read_side_line_track(
    recording: Recording,
    start: MotorStart,
    motor: Motor,
    circuit: EquivalentCircuit,
    limits: StartTrackLimits | None = None,
) -> StartTrack:
    """Read the side line |1 - 2s| f of a direct start.

    Parameters
    ----------
    recording
        With proven roles: one to three currents, none to three voltages.
    start
        Where the motor was started.
    motor, circuit
        The motor and an ensemble of its equivalent circuit, shape (n_draws,).
    limits
        Validity limits.

    Returns
    -------
    StartTrack
        With a reason instead of a value where it cannot be read.
    """
    limits = limits or StartTrackLimits()
    signals = _readable(recording, start, motor, limits)
    if isinstance(signals, NotKnown):
        return _invalid(signals.reason)
    track = track_slip(signals, motor, circuit)
    if isinstance(track, NotKnown):
        return _invalid(track.reason)
    if not (track.misfit <= limits.largest_misfit and track.strain <= limits.largest_strain):
        apart = f"{100.0 * track.misfit:.0f} % apart, {track.strain:.1f} deviations away"
        return _invalid(f"current and voltage of this start do not fit this motor ({apart})")
    followed = TrackFollower(signals, track, motor, limits).followed()
    if isinstance(followed, NotKnown):
        return _invalid(followed.reason)
    found = _Found(signals=signals, track=track, followed=followed)
    return found.told(motor, start, recording.sampling_rate_hz, limits)


def _readable(
    recording: Recording, start: MotorStart, motor: Motor, limits: StartTrackLimits
) -> StartSignals | NotKnown:
    """Return the start's signals, or why it is not one to be read."""
    refused = why_not_tried(recording, start, motor, limits)
    if refused:
        return NotKnown(refused)
    signals = start_signals(recording, start, motor.nameplate.rated_frequency_hz)
    if isinstance(signals, NotKnown):
        return signals
    refused = why_not_direct(signals, motor, limits)
    return NotKnown(refused) if refused else signals


@dataclass(frozen=True, kw_only=True)
class _Found:
    """All that was found on one start."""

    signals: StartSignals
    track: SlipTrack
    followed: FollowedTrack

    def told(
        self, motor: Motor, start: MotorStart, rate_hz: float, limits: StartTrackLimits
    ) -> StartTrack:
        """Return reading and figure."""
        bars = track_bars(
            self.followed.strength,
            motor,
            self.track.circuit,
            self.signals.frequency_hz,
            limits.false_alarm_probability,
        )
        return StartTrack(
            reading=self._reading(bars, start.kind),
            figure=self._figure(bars, start.switched_on / rate_hz),
        )

    def _reading(self, bars: TrackBars, kind: StartKind) -> Reading:
        level, slip = self.followed.strength.level_db(N_DRAWS)
        return Reading(
            name=NAME,
            title=TITLE,
            independence_class=IndependenceClass.START,
            method=Method.START_UP,
            value=level,
            unit="dB",
            valid=True,
            false_alarm_probability=self.followed.strength.false_alarm_probability,
            open_bar_equivalent=bars.bars,
            detection_limit_bars=bars.detection_limit_bars,
            caveats=self._caveats(kind),
            details=self._details(slip),
        )

    def _caveats(self, kind: StartKind) -> tuple[str, ...]:
        caveats = [HIDDEN, CRACKS, DISPLACED, NOT_BARS]
        if self.signals.voltage_envelope is None:
            caveats.append(NO_VOLTAGE)
        if self.signals.currents_measured == 1:
            caveats.append(ONE_CURRENT)
        if kind is StartKind.NOT_KNOWN:
            caveats.append(KIND_UNKNOWN)
        return tuple(caveats)

    def _details(self, level_slip: float) -> Mapping[str, float]:
        strength = self.followed.strength
        windows = strength.windows
        energy = strength.energy_ratio_db(N_DRAWS)
        floor = float(np.sum(strength.weights * (windows.floor * windows.expected) ** 2))
        return {
            "level_slip_1": level_slip,
            "energy_ratio_db": energy.value,
            "energy_ratio_low_db": energy.low,
            "energy_ratio_high_db": energy.high,
            "floor_db": 10.0 * math.log10(floor),
            "slip_error_1": self.followed.slip_error,
            "tracks_searched_1": float(strength.cells),
            "admittance_misfit_1": self.track.misfit,
            "circuit_strain_1": self.track.strain,
            "windows_1": float(windows.slip.size),
            "window_s": windows.length_s,
            "highest_slip_1": float(windows.slip.max()),
            "lowest_slip_1": float(windows.slip.min()),
            "start_s": self.signals.settled_s,
        }

    def _figure(self, bars: TrackBars, begin_s: float) -> TrackFigure:
        windows = self.followed.strength.windows
        low, high = self.track.interval()
        return TrackFigure(
            time_s=begin_s + self.track.time_s,
            slip=self.followed.slip,
            slip_low=low,
            slip_high=high,
            window_time_s=begin_s + windows.time_s,
            window_slip=windows.slip,
            ratio=np.abs(windows.wave) * windows.expected,
            floor=windows.floor * windows.expected,
            expected_one=bars.expected[0],
            expected_two=bars.expected[1],
        )


def _invalid(reason: str) -> StartTrack:
    """Return a reading that could not be made."""
    return StartTrack(
        reading=Reading(
            name=NAME,
            title=TITLE,
            independence_class=IndependenceClass.START,
            method=Method.START_UP,
            unit="dB",
            reason=reason,
        )
    )
