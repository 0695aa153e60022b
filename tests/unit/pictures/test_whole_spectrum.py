"""The whole spectrum stands as sharp beside the fundamental as if the supply had not wandered."""

from __future__ import annotations

import numpy as np
import pytest

from cagewise.conditioning.frame import supply_frame
from cagewise.conditioning.signals import StatorSignals
from cagewise.pictures.whole_spectrum import whole_spectrum

RATE_HZ, SECONDS = 2000.0, 40.0
F_HZ, F_PP_HZ = 50.0, 0.837
WANDER_HZ, WANDER_PERIOD_S = 0.02, 13.0


def signals(wander_hz: float) -> StatorSignals:
    """Return a current of 100 A with a lower side line of 1 A on a supply that wanders."""
    t = np.arange(round(RATE_HZ * SECONDS)) / RATE_HZ
    swing = wander_hz * WANDER_PERIOD_S * np.sin(2.0 * np.pi * t / WANDER_PERIOD_S)
    supply = np.exp(2j * np.pi * F_HZ * t + 1j * swing)
    current = supply * (100.0 + np.exp(-2j * np.pi * F_PP_HZ * t))
    voltage = np.asarray(300.0 * supply, dtype=np.complex128)
    return StatorSignals(current, voltage, RATE_HZ, 3, 3)


@pytest.mark.parametrize("wander_hz", [0.0, WANDER_HZ])
def test_a_side_line_stands_at_its_place_and_level(wander_hz: float) -> None:
    frame = supply_frame(signals(wander_hz), F_HZ)

    x, ratio = whole_spectrum(frame)

    level = 20.0 * np.log10(ratio)
    near = np.abs(x - (F_HZ - F_PP_HZ)) < 0.3
    place = x[near][np.argmax(level[near])]
    assert place == pytest.approx(F_HZ - F_PP_HZ, abs=0.5 * (x[1] - x[0]) + 2e-3)
    assert level[near].max() == pytest.approx(-40.0, abs=0.4)  # half a bin beside the top
    beside = np.abs(np.abs(x - place) - 6.0 / SECONDS) < 0.5 / SECONDS
    assert level[beside].max() < -65.0  # a wander left in would stand here


def test_it_reaches_from_end_to_end_of_the_band() -> None:
    x, ratio = whole_spectrum(supply_frame(signals(0.0), F_HZ))

    assert (x[0], x[-1]) == (-RATE_HZ / 2.0, pytest.approx(RATE_HZ / 2.0, rel=1e-4))
    assert 20.0 * np.log10(ratio.max()) == pytest.approx(0.0, abs=0.4)
    assert np.all(np.diff(x) > 0.0)
