"""Flicker on saturated iron: what the slope of the magnetisation curve adds is no damage."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from cagewise.indicators.cage import direct_component
from cagewise.indicators.cage.context import CageContext, cage_context
from cagewise.indicators.cage.iron_slope import SPREAD, USUAL, iron_slopes
from cagewise.indicators.cage.point_draws import PointDraws
from cagewise.indicators.cage.ripple_ratio import model_ratio
from cagewise.indicators.limits import CageLimits
from cagewise.indicators.lines.pair_bins import PairBins, bins_of_ring
from cagewise.quantities import ComplexArray, RealArray
from cagewise.simulation import MainSaturation, Saturation
from support.operating import frame_of, point_of, r3k_circuit, r3k_motor
from support.r3k import QUARTER_LOAD_NM, r3k_recording

FLICKER = 0.003
"""Random amplitude modulation of the supply, rms."""


def context_of(
    factor: float,
    *,
    fault: str = "healthy",
    flicker_rms: float = FLICKER,
    amplitude_modulation: float = 0.0,
) -> CageContext:
    """Return the 3 kW motor at a quarter load on a flickering supply, its iron as saturated."""
    main = MainSaturation.at_voltage(factor, line_voltage_rms_v=380.0, frequency_hz=50.0)
    recording = r3k_recording(
        fault,
        QUARTER_LOAD_NM,
        duration_s=30.0,
        flicker_rms=flicker_rms,
        amplitude_modulation=amplitude_modulation,
        saturation=Saturation(main=main) if factor > 1.0 else None,
    )
    frame = frame_of(recording)
    point = point_of(frame, recording.truth["slip"])
    context = cage_context(frame, point, r3k_motor(), r3k_circuit(), CageLimits())
    assert isinstance(context, CageContext)
    return context


def ring_of(context: CageContext) -> tuple[PairBins, ComplexArray]:
    ring = bins_of_ring(context.pair.band, context.supply)
    return ring, model_ratio(ring, context.draws.middle, context.pair.fundamental)


def test_the_flicker_beside_the_pair_shows_the_slope() -> None:
    """A known slope is put into the measured bins of linear iron and found again."""
    context = context_of(1.0)
    ring, rho = ring_of(context)
    draws, fundamental_a = context.draws, context.pair.fundamental
    assert np.mean(iron_slopes(ring, draws, fundamental_a, rho)) < 0.15

    bent_a = 0.9 * complex(draws.middle.magnetizing_current(fundamental_a))
    saturated = replace(
        ring,
        lower=ring.lower + bent_a * ring.modulation.conj(),
        upper=ring.upper + bent_a * ring.modulation,
    )
    assert np.mean(iron_slopes(saturated, draws, fundamental_a, rho)) == pytest.approx(0.9, abs=0.1)


def test_without_flicker_the_slope_is_what_is_usual() -> None:
    context = context_of(1.0)
    ring, rho = ring_of(context)
    still = replace(ring, modulation=np.zeros_like(ring.modulation))
    found = iron_slopes(still, context.draws, context.pair.fundamental, rho)

    assert np.mean(found) == pytest.approx(USUAL, abs=0.3 * SPREAD)
    assert found.min() >= 0.0


def read(context: CageContext) -> RealArray:
    """Return draws of the direct component in open bars."""
    return context.scale.draws(context.direct.draws_a)


def without_slope(
    bins: PairBins, draws: PointDraws, fundamental_a: complex, rho: ComplexArray
) -> RealArray:
    """Return the slopes of linear iron."""
    del bins, fundamental_a, rho
    return np.zeros(draws.slip.size)


@pytest.mark.parametrize("factor", [1.0, 1.3])
def test_a_modulated_supply_is_no_damage_whatever_the_iron(factor: float) -> None:
    """One per cent of the voltage, exactly at twice the slip frequency, on a sound cage."""
    context = context_of(factor, amplitude_modulation=0.01)

    assert context.direct.includes_zero
    assert np.percentile(read(context), 97.5) < 0.1


def test_a_linear_circuit_takes_the_same_for_an_open_bar(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(direct_component, "iron_slopes", without_slope)

    assert np.percentile(read(context_of(1.3, amplitude_modulation=0.01)), 2.5) > 0.8


def test_where_no_flicker_shows_the_slope_the_reading_says_how_little_it_knows() -> None:
    context = context_of(1.3, amplitude_modulation=0.01, flicker_rms=0.0)

    assert context.direct.includes_zero


def test_an_open_bar_on_saturated_iron_is_an_open_bar() -> None:
    context = context_of(1.3, fault="1 bar", amplitude_modulation=0.01)

    assert np.median(read(context)) == pytest.approx(1.0, abs=0.2)
