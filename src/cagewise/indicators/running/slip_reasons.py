"""Why the slip could not be had, and what would help, in one clause each."""

from __future__ import annotations

import math

from cagewise.conditioning.frame import SupplyFrame
from cagewise.indicators.running.slip_families import NYQUIST_SHARE, Family, Readings
from cagewise.indicators.running.slip_search import Search
from cagewise.machine.motor import Motor

GOOD_DURATION_S = 60.0
"""Length of record that separates the families well (methods: at least 10 s)."""
LIGHT_LOAD = 0.5
"""Highest slip searched over rated slip below which the load is what is missing: cage lines fall
with the slip and crowd about the harmonics of the supply."""


def why_not(
    frame: SupplyFrame, motor: Motor, search: Search, families: list[Readings], broken: str
) -> str:
    """Return the reason and what would help.

    Parameters
    ----------
    frame, motor
        The record and its motor.
    search
        Outcome of the search.
    families
        What each family read.
    broken
        Which rule of acceptance was broken: "no line", "one family", "not decisive" or "odds".
    """
    finding = {
        "no line": _no_line,
        "one family": _one_family,
        "not decisive": _not_decisive,
        "odds": _poor_odds,
    }[broken](frame, motor, search)
    slot = _slot_lines(frame, motor, search, families)
    advice = _advice(frame, motor, search, slot)
    return "; ".join(part for part in (finding, slot, advice) if part)


def _no_line(frame: SupplyFrame, motor: Motor, search: Search) -> str:
    """Nothing at all was found."""
    low, high = (_speed_rpm(frame, motor, s) for s in reversed(search.window))
    return f"no line of the rotor stands out for a speed between {low:.0f} and {high:.0f} rpm"


def _one_family(frame: SupplyFrame, motor: Motor, search: Search) -> str:
    """One family alone."""
    best = search.candidates[0]
    speed = _speed_rpm(frame, motor, best.slip)
    if not best.supports:
        return _no_line(frame, motor, search)
    return (
        f"only one family of lines ({best.families[0]}) points to a speed ({speed:.1f} rpm) and "
        "no second one agrees"
    )


def _not_decisive(frame: SupplyFrame, motor: Motor, search: Search) -> str:
    """Only families that a pulsating load imitates together."""
    speed = _speed_rpm(frame, motor, search.candidates[0].slip)
    return (
        f"the lines that agree on {speed:.1f} rpm could all come from a pulsating load; neither "
        "slot nor eccentricity lines confirm it"
    )


def _poor_odds(frame: SupplyFrame, motor: Motor, search: Search) -> str:
    """Agreement that may be an accident."""
    best = search.candidates[0]
    speed = _speed_rpm(frame, motor, best.slip)
    if len(search.candidates) > 1 and best.log_mass - search.candidates[1].log_mass < 5.0:
        other = _speed_rpm(frame, motor, search.candidates[1].slip)
        return f"more than one speed fits the lines ({speed:.1f} and {other:.1f} rpm)"
    odds = math.exp(min(max(search.log_odds, 0.0), 7.0))
    chance = f"could be an accident among the other lines (odds {odds:.0f} to 1)"
    if len(best.families) == 1:
        return (
            f"one family of lines alone ({best.families[0]}) points to {speed:.1f} rpm; it {chance}"
        )
    return f"the agreement of {' and '.join(best.families)} on {speed:.1f} rpm {chance}"


def _slot_lines(frame: SupplyFrame, motor: Motor, search: Search, families: list[Readings]) -> str:
    """Say what is the matter with the slot lines, or nothing."""
    bars, pairs = motor.cage.rotor_bars, motor.nameplate.pole_pairs
    if bars is None:
        return "the number of rotor bars is not known"
    lowest_hz = (bars / pairs * (1.0 - search.window[1]) - 1.0) * frame.supply_frequency_hz
    highest_hz = NYQUIST_SHARE * frame.signals.sampling_rate_hz
    if lowest_hz > highest_hz:
        return (
            f"the slot lines of {bars} bars lie above {lowest_hz:.0f} Hz and this record reads up "
            f"to {highest_hz:.0f} Hz"
        )
    low, high = search.window
    slots = next(r for r in families if r.family is Family.SLOT)
    if not ((slots.slip >= low) & (slots.slip <= high)).any():
        return "no rotor-slot line stands out"
    return ""


def _advice(frame: SupplyFrame, motor: Motor, search: Search, slot: str) -> str:
    """Say what would help."""
    helps = []
    if motor.cage.rotor_bars is None:
        helps.append("give rotor_bars")
    elif "lie above" in slot:
        needed = (motor.cage.rotor_bars / motor.nameplate.pole_pairs + 2.0) / NYQUIST_SHARE
        rate_khz = math.ceil(needed * frame.supply_frequency_hz / 1000.0)
        helps.append(f"sample at {rate_khz} kHz or more")
    if frame.signals.duration_s < 0.9 * GOOD_DURATION_S:
        helps.append(f"record {GOOD_DURATION_S:.0f} s")
    if frame.voltage is not None and search.window[1] < LIGHT_LOAD * motor.nameplate.rated_slip:
        helps.append("load the motor more")
    if frame.voltage is None:
        helps.append("measure the voltages too")
    helps.append("measure the speed")
    return " or ".join(helps)


def _speed_rpm(frame: SupplyFrame, motor: Motor, slip: float) -> float:
    """Return the shaft speed at a slip."""
    return 60.0 * frame.supply_frequency_hz * (1.0 - slip) / motor.nameplate.pole_pairs
