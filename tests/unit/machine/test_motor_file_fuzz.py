"""Whatever a motor file holds, the answer is a motor or a MotorFileError, nothing else."""

from __future__ import annotations

from contextlib import suppress

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cagewise.errors import MotorFileError
from cagewise.machine.motor_file import motor_from_mapping
from cagewise.machine.motor_schema import SECTIONS, BearingSection, MotorSection

SCALARS = (
    st.none()
    | st.booleans()
    | st.integers(-(10**30), 10**30)
    | st.floats()
    | st.sampled_from([5e-324, 1e-300, 1e300, 1.7e308])
    | st.text(max_size=8)
    | st.dates()
)
VALUES = st.recursive(
    SCALARS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=4,
)
NUMBERS = (
    st.floats(1.0, 1e5) | st.floats(1e-3, 1e6) | st.sampled_from([5e-324, 1e-300, 1e300, 1.7e308])
)


@settings(max_examples=200, deadline=None)
@given(
    st.dictionaries(
        st.sampled_from([*SECTIONS, "bearings", "other"]),
        st.dictionaries(
            st.sampled_from([*MotorSection.model_fields, *BearingSection.model_fields, "x"]),
            VALUES,
            max_size=6,
        )
        | VALUES,
        max_size=5,
    )
)
def test_any_content(content: dict[str, object]) -> None:
    with suppress(MotorFileError):
        motor_from_mapping(content)


@settings(max_examples=300, deadline=None)
@given(
    st.fixed_dictionaries(
        {
            "rated_power_kw": NUMBERS,
            "rated_voltage_v": NUMBERS,
            "rated_frequency_hz": st.floats(1.0, 1000.0),
            "rated_speed_rpm": NUMBERS,
            "rated_current_a": NUMBERS,
        },
        optional={
            "poles": st.integers(1, 60).map(lambda pairs: 2 * pairs),
            "power_factor": st.floats(0.1, 0.999999),
            "efficiency": st.floats(0.1, 0.999999),
            "code_letter": st.sampled_from("AV"),
            "rotor_bars": st.integers(1, 10**9),
        },
    )
)
def test_any_numbers(section: dict[str, object]) -> None:
    try:
        motor = motor_from_mapping({"motor": section})
    except MotorFileError:
        return
    assert 0.0 < motor.nameplate.rated_slip < 1.0


@pytest.mark.parametrize("speed_rpm", [5e-324, 1e-300])
def test_a_vanishing_speed_is_refused(speed_rpm: float) -> None:
    section = {
        "rated_power_kw": 75,
        "rated_voltage_v": 400,
        "rated_frequency_hz": 50,
        "rated_speed_rpm": speed_rpm,
        "rated_current_a": 134,
    }
    with pytest.raises(MotorFileError, match="must be at least 1"):
        motor_from_mapping({"motor": section})
