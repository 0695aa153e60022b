"""Slip on recordings nobody on the project made: right, or not known."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from cagewise.conditioning.frame import supply_frame
from cagewise.conditioning.signals import StatorSignals
from cagewise.indicators.running.operating_point import OperatingPoint, find_operating_point
from cagewise.machine.estimate import circuit_ensemble
from cagewise.machine.motor import Cage, Motor
from cagewise.machine.nameplate import Nameplate
from cagewise.quantities import NotKnown, space_vector

PLATE = Nameplate(
    rated_power_w=0.75 * 745.7,
    rated_voltage_v=230.0,
    rated_frequency_hz=60.0,
    rated_speed_rpm=1725.0,
    rated_current_a=3.0,
    poles=4,
)


def examined(path: Path, bars: int | None) -> OperatingPoint:
    """Return the operating point of one record of three currents, 1 kHz, 5 s, no load."""
    columns = np.loadtxt(path, delimiter=",")
    vector = space_vector(*(columns - columns.mean(axis=0)).T)
    spectrum = np.abs(np.fft.fft(vector))
    if spectrum[295:306].max() < spectrum[-305:-294].max():
        vector = np.conj(vector)
    motor = Motor(tag="test bench", nameplate=PLATE, cage=Cage(rotor_bars=bars))
    frame = supply_frame(StatorSignals(vector, None, 1000.0, 3, 0), 60.0)
    return find_operating_point(frame, motor, circuit_ensemble(motor))


@pytest.mark.parametrize("bars", [None, 44])
def test_an_idle_motor_at_1_khz_for_5_s_has_no_slip(open_data: Path, bars: int | None) -> None:
    """Inter-turn fault records, University of Guanajuato (Measurement 222 (2023) 113680), MIT.

    0.75 hp, 60 Hz, 1725 rpm, without load: the speed is above 1790 rpm, f_pp below 0.7 Hz. Three
    periods of it fit into the record, and the slot lines lie above half the sampling rate.
    """
    folder = open_data / "itsc-stator-fault" / "RAW_Signals"
    if not folder.is_dir():
        pytest.skip(f"no records at {folder}")
    paths = sorted(folder.glob("*.csv"))
    assert len(paths) >= 20
    for path in paths:
        point = examined(path, bars)
        assert isinstance(point.slip, NotKnown), (path.name, point)
        assert point.supply_frequency_hz.low < 60.05
        assert point.supply_frequency_hz.high > 59.95
        wish = "give rotor_bars" if bars is None else "sample at 4 kHz or more"
        assert wish in point.slip.reason
        assert "record 60 s" in point.slip.reason
