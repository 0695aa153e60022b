"""Power lines in closed form."""

from __future__ import annotations

import cmath
from dataclasses import replace

import numpy as np
import pytest

from cagewise.indicators.cage import power_lines as power_lines_module
from cagewise.indicators.cage.catalogue import read_cage
from cagewise.indicators.cage.power_lines import oscillation_ratio
from cagewise.indicators.limits import CageLimits
from cagewise.indicators.reading import Reading
from cagewise.measurement import CURRENT_ROLES, Recording
from cagewise.quantities import Estimate, decibel
from support.operating import frame_of, plant_circuit, plant_motor, point_of
from support.synthetic import Line, Synthetic

SLIP = 0.02
LAG = 0.5


def read(recording: Recording) -> dict[str, Reading]:
    frame = frame_of(recording)
    found = read_cage(frame, point_of(frame, SLIP), plant_motor(), plant_circuit(), CageLimits())
    return {reading.name: reading for reading in found.readings}


def record(lower: complex, upper: complex, noise_db: float | None = None) -> Recording:
    """Return a pair given against the voltage, in units of the fundamental."""
    lines = tuple(
        # the lines of a record lag like its fundamental
        Line(level_dbc=decibel(abs(line)), offset_hz=offset, phase_rad=cmath.phase(line) + LAG)
        for line, offset in ((lower, -2.0), (upper, 2.0))
    )
    return Synthetic(
        sampling_rate_hz=2500.0, duration_s=20.0, lag_rad=LAG, lines=lines, noise_db=noise_db
    ).recording()


@pytest.mark.parametrize("angle", [0.0, 0.4, 1.6, 3.0])
def test_active_and_reactive_are_sum_and_difference_in_the_voltage_frame(angle: float) -> None:
    """``p - j q = 3/2 conj(v) i``; ripple relative to the apparent power, peak."""
    lower, upper = 0.01 * cmath.exp(1j * angle), 0.006 + 0j
    recording = record(lower, upper)
    found = read(recording)
    active, reactive = found["active_power_line"].value, found["reactive_power_line"].value
    assert active is not None
    assert reactive is not None
    assert active.value == pytest.approx(100.0 * abs(upper + lower.conjugate()), rel=2e-3)
    assert reactive.value == pytest.approx(100.0 * abs(upper - lower.conjugate()), rel=2e-3)


def test_the_same_from_the_product_of_voltage_and_current() -> None:
    """An independent route: p(t) and q(t) from the samples, their lines by a transform."""
    recording = record(0.01 + 0.004j, 0.006 + 0j)
    frame = frame_of(recording)
    assert frame.voltage is not None
    power = frame.voltage * frame.current.conj()
    window = np.hanning(power.size)
    turn = np.exp(-2j * np.pi * 2.0 * frame.time_s)
    apparent = abs(power.mean())
    peaks = [
        2.0 * abs(np.sum(window * (part - part.mean()) * turn)) / window.sum() / apparent
        for part in (power.real, power.imag)
    ]
    found = read(recording)
    for peak, name in zip(peaks, ("active_power_line", "reactive_power_line"), strict=True):
        value = found[name].value
        assert value is not None
        assert value.value == pytest.approx(100.0 * peak, rel=2e-3)


def test_pure_active_ripple_has_a_large_but_finite_ratio() -> None:
    found = read(record(0.01 + 0j, 0.01 + 0j, noise_db=-60.0))
    assert found["active_power_line"].details["active_over_reactive_1"] > 50.0


def test_without_voltage_or_without_line_nothing_is_attributed() -> None:
    recording = record(0.01 + 0j, 0.01 + 0j)
    currents = tuple(c for c in recording.channels if c.role in CURRENT_ROLES)
    alone = read(replace(recording, channels=currents))["active_power_line"]
    assert not alone.valid
    assert "record two line voltages" in alone.reason
    silent = Synthetic(sampling_rate_hz=2500.0, duration_s=20.0, noise_db=-60.0).recording()
    assert "nothing to attribute" in read(silent)["reactive_power_line"].reason


def test_ratio_of_an_oscillation_follows_from_rho() -> None:
    """Survey, 2.6 and 2.7: rho 1.275/-15.2, 1.115/-3.5, 1.052/+2.7 give 5.6, 16 and 28."""
    rho = np.array([1.275, 1.115, 1.052]) * np.exp(1j * np.radians([-15.2, -3.5, 2.7]))
    # rho is printed to three digits: near 1 that is 3 % of the ratio
    assert oscillation_ratio(rho) == pytest.approx([5.6, 16.0, 28.0], rel=0.04)


def test_a_line_in_neither_power_attributes_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """What the floor takes away may leave nothing of both."""
    nothing = power_lines_module.PowerLines(
        active=Estimate(0.0, 0.0, 1e-5),
        reactive=Estimate(0.0, 0.0, 1e-5),
        oscillation_ratio=Estimate(2.0, 1.0, 3.0),
    )
    monkeypatch.setattr(power_lines_module, "power_lines", lambda _: nothing)

    found = read(record(0.01 + 0.004j, 0.006 + 0j))

    assert not found["active_power_line"].valid
    assert "neither of the powers" in found["reactive_power_line"].reason
