"""What all cage indicators share, and when they must not be read."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from cagewise.conditioning.frame import FRAME_HALF_WIDTH_HZ, FRAME_PART, SupplyFrame
from cagewise.indicators.cage.direct_component import DirectComponent, direct_component
from cagewise.indicators.cage.open_bars import BarScale
from cagewise.indicators.cage.point_draws import Fundamental, PointDraws, point_draws
from cagewise.indicators.limits import CageLimits
from cagewise.indicators.lines.fitting import Baseband
from cagewise.indicators.lines.pair import LinePair, SideLine, find_pair
from cagewise.indicators.lines.pair_bins import SupplyModulation
from cagewise.indicators.reading import IndependenceClass, Method, Reading
from cagewise.indicators.running.operating_point import OperatingPoint
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.motor import Motor
from cagewise.quantities import Estimate, NotKnown, decibel

LOWEST_LEVEL_DBC = -160.0
"""Levels are cut here, far below any measuring chain: a line of zero has no level."""

LARGEST_PART_OF_FRAME = 0.9
"""Pole-pass frequency in half-widths of the frame beyond which its line has no room beside it."""
SIDE_LINE_FAMILY = "pole pass"
"""Name of the family of lines by which the slip may have been found: the side lines themselves."""

MASKED = "bars half a pole pitch (90 electrical degrees) apart cancel in this reading"
ANISOTROPY = (
    "axial ducts, spider arms or flats on the shaft equal in number to the poles look the same"
)


@dataclass(frozen=True, kw_only=True)
class CageContext:
    """One steady stretch, ready to be read."""

    frame: SupplyFrame
    point: OperatingPoint
    motor: Motor
    limits: CageLimits
    pair: LinePair
    supply: SupplyModulation | None
    draws: PointDraws
    """The motor as it is, matched to the measured fundamental."""
    direct: DirectComponent
    """What the pair holds beyond speed ripple and supply."""
    scale: BarScale
    """From amplitudes to open bars."""

    @property
    def slip_wander(self) -> float:
        """Standard deviation of the slip, per unit of the slip; 0 where it is not known."""
        return self.point.slip_wander or 0.0

    def level(self, line: SideLine) -> Estimate:
        """Return a line's level in dBc."""
        amplitude = line.amplitude
        return Estimate(*(self._level(a) for a in (amplitude.value, amplitude.low, amplitude.high)))

    def _level(self, amplitude_a: float) -> float:
        return max(decibel(amplitude_a / self.pair.fundamental_a), LOWEST_LEVEL_DBC)

    def level_of(self, amplitude_a: float) -> float:
        """Return an amplitude (A peak) as a level in dBc."""
        return self._level(amplitude_a)


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """What a reading is called and where it counts."""

    name: str
    title: str
    independence_class: IndependenceClass = IndependenceClass.RUNNING_FUNDAMENTAL
    method: Method | None = None

    def refused(self, reason: str) -> Reading:
        """Return the reading that could not be made."""
        return Reading(
            name=self.name,
            title=self.title,
            independence_class=self.independence_class,
            method=self.method,
            reason=reason,
        )


def cage_context(
    frame: SupplyFrame,
    point: OperatingPoint,
    motor: Motor,
    circuit: EquivalentCircuit,
    limits: CageLimits,
) -> CageContext | NotKnown:
    """Return what the indicators share, or why none of them can be read."""
    slip, pole_pass_hz = point.slip, point.pole_pass_frequency_hz
    if isinstance(slip, NotKnown):
        return NotKnown(f"the slip is not known ({slip.reason}), so the place of the lines is not")
    if isinstance(pole_pass_hz, NotKnown):
        return NotKnown(f"the pole-pass frequency is not known ({pole_pass_hz.reason})")
    reason = _refusal(frame, pole_pass_hz.value, point.slip_wander or 0.0, limits)
    if reason:
        return NotKnown(reason)
    base = frame_baseband(frame)
    pair = find_pair(base, pole_pass_hz, point.slip_wander or 0.0, limits)
    if not math.isfinite(pair.lower.energy.power + pair.upper.energy.power):
        return NotKnown("the record is too short to show the noise beside the side lines")
    fundamental = Fundamental(
        current_a=pair.fundamental,
        voltage_v=_voltage(frame),
        frequency_hz=frame.supply_frequency_hz,
    )
    draws, supply = point_draws(motor, circuit, slip, fundamental), SupplyModulation.of(frame)
    direct = direct_component(pair, supply, draws, limits.false_alarm_probability)
    return CageContext(
        frame=frame,
        point=point,
        motor=motor,
        limits=limits,
        pair=pair,
        supply=supply,
        draws=draws,
        direct=direct,
        scale=BarScale.of(
            _counted(motor, point), draws, direct.amplitude_a, point.rotor_bars_candidates
        ),
    )


def _counted(motor: Motor, point: OperatingPoint) -> Motor:
    """Return the motor with the number of bars that its slot lines settled."""
    if motor.cage.rotor_bars is not None or point.rotor_bars is None:
        return motor
    return replace(motor, cage=replace(motor.cage, rotor_bars=point.rotor_bars))


def frame_baseband(frame: SupplyFrame) -> Baseband:
    """Return the current in the supply frame as a baseband."""
    return Baseband(frame.current, frame.sampling_rate_hz, frame_half_width_hz(frame))


def frame_half_width_hz(frame: SupplyFrame) -> float:
    """Return the half-width of the frame's pass band."""
    return min(FRAME_HALF_WIDTH_HZ, FRAME_PART * frame.supply_frequency_hz)


def _voltage(frame: SupplyFrame) -> float | None:
    """Return the fundamental voltage (V peak) where the frame is that of the voltage."""
    if frame.voltage is None or not frame.from_voltage:
        return None
    return float(abs(frame.voltage.mean()))


def _refusal(
    frame: SupplyFrame, pole_pass_hz: float, slip_wander: float, limits: CageLimits
) -> str:
    """Return why no cage indicator can be read on this stretch; empty when they can."""
    if not pole_pass_hz > 0.0:
        return "the slip is not positive: the machine does not run as a motor"
    periods = pole_pass_hz * frame.duration_s
    if periods < limits.least_periods_joint:
        needed_s = limits.least_periods_windowed / pole_pass_hz
        return (
            f"the record holds {periods:.1f} pole-pass periods and at least "
            f"{limits.least_periods_joint:.0f} are needed: record {needed_s:.0f} s or longer at "
            "this load"
        )
    if pole_pass_hz > LARGEST_PART_OF_FRAME * frame_half_width_hz(frame):
        return f"a pole-pass frequency of {pole_pass_hz:.1f} Hz lies outside the supply frame"
    if slip_wander > limits.largest_slip_wander_energy:
        return (
            f"the slip wanders by {100.0 * slip_wander:.0f} % and at most "
            f"{100.0 * limits.largest_slip_wander_energy:.0f} % can be read: record while the "
            "load is steady"
        )
    return ""


def load_refusal(context: CageContext, least: float) -> str:
    """Return why the load is too low for a reading; empty when it is not.

    Where the load is not known, the slip over the rated slip stands for it.
    """
    load = context.point.load_fraction
    if isinstance(load, NotKnown):
        fraction = float(_slip(context) / context.motor.nameplate.rated_slip)
    else:
        fraction = load.value
    if fraction >= least:
        return ""
    return (
        f"the load is {100.0 * fraction:.0f} % of rated and at least {100.0 * least:.0f} % is "
        "needed: record at a higher load"
    )


def _slip(context: CageContext) -> float:
    """Return the slip's value."""
    slip = context.point.slip
    return slip.value if isinstance(slip, Estimate) else 0.0


def common_caveats(context: CageContext) -> tuple[str, ...]:
    """Return what limits every reading of the pair on this record."""
    caveats = []
    if SIDE_LINE_FAMILY in context.point.slip_families:
        caveats.append("the slip was found with the help of these same lines")
    if context.supply is None:
        caveats.append(
            "no voltage was measured: lines that the supply itself carries cannot be removed, and "
            "wander of the supply frequency blurs the lines"
        )
    if context.frame.signals.currents_measured == 1:
        caveats.append(
            "one current alone: an unbalance of the supply adds to the fundamental and cannot be "
            "told from it"
        )
    if context.slip_wander > context.limits.largest_slip_wander:
        caveats.append(
            f"the slip wanders by {100.0 * context.slip_wander:.0f} %: line energy was read, a "
            "peak would be too low"
        )
    if not context.pair.band.windowed:
        caveats.append("the record is short: the lines were separated by a joint fit")
    return tuple(caveats)
