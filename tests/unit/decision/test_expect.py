"""The use case "what would open bars show": order of magnitude, monotony, wiring of the record.

Numbers of the physics are proven in tests/physics/test_cage_*.
"""

from __future__ import annotations

from functools import cache

import pytest

from cagewise.decision.expect import (
    COUNTS,
    LINE_NAMES,
    LOADS,
    Expectation,
    StatedRecord,
    expect,
    rows,
)
from cagewise.machine.cage.solution import FIFTH_FOUR, LOWER, UPPER
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.motor import Cage, DriveTrain, Motor
from cagewise.machine.nameplate import Nameplate

MOTOR = Motor(
    tag="R-1",
    nameplate=Nameplate(
        rated_power_w=3000.0,
        rated_voltage_v=380.0,
        rated_frequency_hz=50.0,
        rated_speed_rpm=1420.0,
        rated_current_a=6.7,
        poles=4,
    ),
    cage=Cage(rotor_bars=32, stator_slots=36, coil_span_slots=9, construction="cast"),
    drive_train=DriveTrain(rotor_inertia_kg_m2=5.63e-3, load_inertia_kg_m2=0.0),
    circuit=EquivalentCircuit.from_values(
        stator_resistance_ohm=2.2,
        rotor_resistance_ohm=1.6555,
        stator_leakage_h=0.00692,
        rotor_leakage_h=0.00818,
        magnetizing_inductance_h=0.17140,
    ),
)
"""The reference motor with its circuit, cage and bare rotor."""


@cache
def expectation(record: StatedRecord | None = None) -> Expectation:
    return expect(MOTOR, record)


def test_one_bar_of_the_reference_motor_at_full_load() -> None:
    """Reference table: (1-2s)f -38.2, (1+2s)f -37.8, (5-4s)f -44.5 dBc; n |d| / |I_r| 1.11."""
    full = expectation().points[-1]
    one = full.damages[1]
    assert full.load_fraction == 1.0
    for line, level in ((LOWER, -38.2), (UPPER, -37.8), (FIFTH_FOUR, -44.5)):
        assert one.levels_dbc[line].low < level < one.levels_dbc[line].high
    assert one.n_hat.low < 1.11 < one.n_hat.high


def test_more_bars_show_more_and_need_more_slip() -> None:
    for point in expectation().points:
        assert [damage.open_bars for damage in point.damages] == list(COUNTS)
        bars = [damage.n_hat.value for damage in point.damages]
        assert bars == sorted(bars)
        slips = [damage.slip.value for damage in point.damages]
        assert slips == sorted(slips)
        assert point.damages[0].levels_dbc[LOWER].high < point.damages[1].levels_dbc[LOWER].low


def test_side_lines_fall_with_the_load_and_the_direct_component_does_not() -> None:
    points = expectation().points
    assert [point.load_fraction for point in points] == list(LOADS)
    side = [point.damages[1].levels_dbc[LOWER].value for point in points]
    assert side == sorted(side)
    assert side[-1] - side[0] > 12.0
    bars = [point.damages[1].n_hat.value for point in points]
    assert max(bars) / min(bars) < 1.3


def test_detection_limits_are_a_fraction_of_a_bar() -> None:
    for point in expectation().points:
        assert 0.0 < point.detection.direct_bars.value < 0.3
        assert 0.0 < point.detection.line_bars[FIFTH_FOUR].value < 0.3


def test_noise_bits_and_length_move_the_limits() -> None:
    usual = expectation().points[0].detection
    noisy = expectation(StatedRecord(noise_db=-30.0)).points[0].detection
    coarse = expectation(StatedRecord(bits=8)).points[0].detection
    short = expectation(StatedRecord(duration_s=5.0, noise_db=-30.0)).points[0].detection
    for worse in (noisy, coarse):
        assert worse.line_bars[FIFTH_FOUR].value > usual.line_bars[FIFTH_FOUR].value
        assert worse.direct_bars.value > usual.direct_bars.value
    assert short.record_s == 5.0
    assert short.direct_bars.value > noisy.direct_bars.value
    fast = expectation(StatedRecord(noise_db=-30.0, sampling_rate_hz=50e3)).points[0].detection
    assert fast.direct_bars.value < noisy.direct_bars.value


def test_rows_hold_everything_once() -> None:
    table = list(rows(expectation()))
    per_load = len(COUNTS) * (2 + len(LINE_NAMES)) + 1 + len(LINE_NAMES)
    assert len(table) == len(LOADS) * per_load
    keys = {(row.load_fraction, row.open_bars, row.quantity) for row in table}
    assert len(keys) == len(table)
    limit = next(row for row in table if row.open_bars is None)
    assert limit.unit == "bars"
    assert limit.value == expectation().points[0].detection.direct_bars
    level = next(row for row in table if row.quantity == "(1-2s)f" and row.open_bars == 2)
    assert level.unit == "dBc"


def test_a_bare_nameplate_widens_everything() -> None:
    bare = expect(Motor(tag="R-2", nameplate=MOTOR.nameplate)).points[-1].damages[1]
    known = expectation().points[-1].damages[1]
    for line in LINE_NAMES:
        wide, narrow = bare.levels_dbc[line], known.levels_dbc[line]
        assert wide.high - wide.low > narrow.high - narrow.low
    assert known.levels_dbc[LOWER].value == pytest.approx(-38.2, abs=1.5)
