"""The demodulated current in closed form."""

from __future__ import annotations

import cmath
import math

import numpy as np
import pytest

from cagewise.indicators.cage.catalogue import read_cage
from cagewise.indicators.cage.envelope import peak_to_peak_db, ripple_db
from cagewise.indicators.limits import CageLimits
from cagewise.indicators.reading import Method, Reading
from cagewise.measurement import Recording
from cagewise.quantities import amplitude_ratio, decibel
from support.operating import frame_of, plant_circuit, plant_motor, point_of
from support.synthetic import Line, Synthetic

SLIP = 0.02
AMPLITUDE = 0.01
RINGING = 3e-6
"""What rings of the frame's filter, relative to the fundamental."""


def read(recording: Recording) -> dict[str, Reading]:
    frame = frame_of(recording)
    found = read_cage(frame, point_of(frame, SLIP), plant_motor(), plant_circuit(), CageLimits())
    return {reading.name: reading for reading in found.readings}


def record(lower: complex, upper: complex, duration_s: float = 20.0) -> Recording:
    """Return a record with a pair given relative to the fundamental, both at -+2 Hz."""
    lines = tuple(
        Line(level_dbc=decibel(abs(line)), offset_hz=offset, phase_rad=cmath.phase(line))
        for line, offset in ((lower, -2.0), (upper, 2.0))
        if line
    )
    return Synthetic(sampling_rate_hz=2500.0, duration_s=duration_s, lines=lines).recording()


@pytest.mark.parametrize("angle", [0.0, 0.7, math.pi / 2.0, 2.5, math.pi])
@pytest.mark.parametrize("share", [1.0, 0.5, 0.0])
def test_quadratures_are_sum_and_difference_of_the_pair(angle: float, share: float) -> None:
    """Peak ripple of modulus ``|U + conj(L)|`` and of phase ``|U - conj(L)|``, I1 = 1."""
    lower, upper = AMPLITUDE * cmath.exp(1j * angle), complex(share * AMPLITUDE)
    found = read(record(lower, upper))
    depth = 0.01 * found["envelope_amplitude"].details["amplitude_ripple_peak_percent"]
    swing = 1e-3 * found["envelope_amplitude"].details["phase_ripple_peak_mrad"]
    # second-order terms of the modulus are of the square of the lines and fall on 2 f_pp and zero
    second = 2.0 * AMPLITUDE**3 + 2.0 * RINGING
    assert depth == pytest.approx(abs(upper + lower.conjugate()), rel=1e-3, abs=second)
    assert swing == pytest.approx(abs(upper - lower.conjugate()), rel=1e-3, abs=second)


def test_amplitude_vanishes_where_the_pair_is_pure_phase_modulation() -> None:
    found = read(record(-AMPLITUDE + 0j, AMPLITUDE + 0j))
    amplitude, lower = found["envelope_amplitude"], found["lower_side_line"]
    assert amplitude.value is not None
    assert lower.value is not None
    assert amplitude.value.value < ripple_db(1e-4)
    assert lower.value.value == pytest.approx(-40.0, abs=0.01)
    # the bars come from both quadratures, so nothing is lost with the amplitude
    bars, line_bars = amplitude.open_bar_equivalent, found["side_line_sum"].open_bar_equivalent
    assert bars is not None
    assert line_bars is not None
    assert bars.low < line_bars.value < bars.high


def test_load_drift_is_not_ripple() -> None:
    """A load that drifts by 4 % over the record leaves no line at the pole-pass frequency."""
    clean = Synthetic(sampling_rate_hz=2500.0, duration_s=20.0, noise_db=-60.0).recording()
    time = np.arange(clean.n_samples) / clean.sampling_rate_hz
    drift = 1.0 + 0.002 * time + 0.002 * np.sin(2.0 * np.pi * 0.05 * time)
    channels = []
    for channel in clean.channels:
        raw = channel.raw * drift if channel.unit == "A" else channel.raw
        channels.append(
            type(channel)(name=channel.name, raw=raw, unit=channel.unit, role=channel.role)
        )
    drifting = Recording(
        channels=tuple(channels),
        sampling_rate_hz=clean.sampling_rate_hz,
        provenance=clean.provenance,
    )
    reading = read(drifting)["envelope_amplitude"]
    assert reading.valid
    assert reading.false_alarm_probability is not None
    assert reading.false_alarm_probability > 0.01


def test_amplitude_counts_as_a_method_and_says_that_it_is_not_independent() -> None:
    reading = read(record(AMPLITUDE + 0j, 0j))["envelope_amplitude"]
    assert reading.method is Method.DEMODULATED_CURRENT
    assert any("same two side lines" in caveat for caveat in reading.caveats)


@pytest.mark.parametrize(
    ("ripple", "percent", "line_dbc"), [(0.2, 2.33, -38.7), (0.3, 3.51, -35.1)]
)
def test_ripple_in_decibels_as_the_trade_prints_it(
    ripple: float, percent: float, line_dbc: float
) -> None:
    """Common practice, no source: 0.2 to 0.3 dB are 2.3 to 3.5 %, side lines of -39 to -35 dB.

    That holds when the ripple is counted from the mean to the highest amplitude, and both lines
    are alike. Counted from lowest to highest the same decibels are half the depth.
    """
    depth = 0.01 * percent
    assert ripple_db(depth) == pytest.approx(ripple, abs=0.001)
    assert depth / 2.0 == pytest.approx(amplitude_ratio(line_dbc), rel=0.01)
    assert peak_to_peak_db(depth) == pytest.approx(2.0 * ripple, rel=0.02)
