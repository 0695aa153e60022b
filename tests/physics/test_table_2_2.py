"""The readings against the reference table of the simulated 3 kW motor (bar-by-bar circuit model).

The table was computed with another program of the same physics; two teams agree when first-order
lines lie within 0.3 dB and lines of the 5th and 7th harmonic within 1 dB of each other.
"""

from __future__ import annotations

from typing import TypeAlias

import pytest

from cagewise.indicators.cage.catalogue import read_cage
from cagewise.indicators.limits import CageLimits
from cagewise.indicators.reading import Reading
from cagewise.measurement import Recording
from support.operating import frame_of, point_of, r3k_circuit, r3k_motor
from support.r3k import FULL_LOAD_NM, HALF_LOAD_NM, QUARTER_LOAD_NM, r3k_recording

Row: TypeAlias = tuple[str, float, float, float, float, float, float, float, float]
DURATION_S = {FULL_LOAD_NM: 10.0, HALF_LOAD_NM: 12.0, QUARTER_LOAD_NM: 16.0}
FIRST_ORDER_DB = 0.3
HARMONIC_DB = 1.0
ROWS: list[Row] = [
    # fault, load, inertia, lower, upper, (5-4s), (5-6s), (7-6s), (7-8s), in dBc
    ("1 bar", FULL_LOAD_NM, 1, -38.2, -37.8, -44.5, -54.0, -50.7, -51.7),
    ("1 bar", HALF_LOAD_NM, 1, -41.2, -41.1, -46.4, -54.3, -49.8, -53.1),
    ("1 bar", QUARTER_LOAD_NM, 1, -46.2, -46.2, -48.0, -54.5, -49.3, -54.2),
    ("1 bar", FULL_LOAD_NM, 20, -32.8, -41.3, -44.5, -55.4, -50.5, -52.1),
    ("2 adjacent", FULL_LOAD_NM, 1, -31.4, -30.9, -40.0, -51.0, -47.1, -59.6),
    ("3 adjacent", FULL_LOAD_NM, 1, -27.5, -26.7, -42.4, -60.6, -59.1, -51.4),
    ("2 at 90", FULL_LOAD_NM, 1, -55.5, -55.1, -38.5, -67.8, -80.6, -46.1),
    ("2 at 180", FULL_LOAD_NM, 1, -32.3, -31.8, -39.0, -47.2, -45.4, -45.9),
    ("2 at 45", FULL_LOAD_NM, 1, -33.7, -33.2, -68.3, -51.9, -47.7, -45.5),
]
LABELS = ("5_minus_4s", "5_minus_6s", "7_minus_6s", "7_minus_8s")


def readings(recording: Recording) -> dict[str, Reading]:
    frame = frame_of(recording)
    point = point_of(frame, recording.truth["slip"])
    found = read_cage(frame, point, r3k_motor(), r3k_circuit(), CageLimits())
    return {reading.name: reading for reading in found.readings}


QUICK = {("1 bar", FULL_LOAD_NM, 1), ("1 bar", HALF_LOAD_NM, 1), ("2 at 90", FULL_LOAD_NM, 1)}


@pytest.mark.parametrize(
    "row",
    [
        pytest.param(
            row,
            id=f"{row[0]}, {row[1]:g} Nm, inertia x{row[2]}",
            marks=[] if row[:3] in QUICK else [pytest.mark.slow],
        )
        for row in ROWS
    ],
)
def test_lines_of_a_damaged_cage(row: Row) -> None:
    fault, load_nm, inertia, lower, upper = row[:5]
    found = readings(r3k_recording(fault, load_nm, inertia, DURATION_S[load_nm]))
    for name, level in (("lower_side_line", lower), ("upper_side_line", upper)):
        value = found[name].value
        assert value is not None
        assert value.value == pytest.approx(level, abs=FIRST_ORDER_DB), name
    details = found["harmonic_lines"].details
    for label, level in zip(LABELS, row[5:], strict=True):
        assert details[f"line_{label}_dbc"] == pytest.approx(level, abs=HARMONIC_DB), label


def test_search_at_one_pole_pass_frequency_from_the_fifth_finds_the_image() -> None:
    """Same table, text: -76.5 dBc at 5f - f_pp against -44.5 at 5f - 2 f_pp."""
    found = readings(r3k_recording("1 bar", duration_s=DURATION_S[FULL_LOAD_NM]))
    details = found["harmonic_lines"].details
    assert details["image_5_minus_2s_dbc"] == pytest.approx(-76.5, abs=HARMONIC_DB)


def test_healthy_motor_shows_no_line() -> None:
    """Same table: below -130 dBc."""
    found = readings(r3k_recording("healthy", duration_s=DURATION_S[FULL_LOAD_NM]))
    for name in ("side_line_sum", "lower_side_line", "upper_side_line", "harmonic_lines"):
        value = found[name].value
        assert value is not None
        assert value.value < -130.0, name
