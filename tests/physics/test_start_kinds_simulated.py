"""Starts of the witness are found, and those that cannot be read are refused by their kind."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cagewise.conditioning.starts import StartKind, find_starts
from cagewise.machine.motor_file import motor_from_mapping
from cagewise.machine.nameplate import Starting
from cagewise.measurement import Role
from cagewise.workflows.simulate_start import StartOptions, simulate_start_of

MOTOR = motor_from_mapping(
    {
        "motor": {
            "rated_power_kw": 132,
            "rated_voltage_v": 690,
            "rated_frequency_hz": 50,
            "rated_speed_rpm": 1482,
            "rated_current_a": 134,
            "poles": 4,
            "rotor_bars": 44,
            "cage": "fabricated",
        },
        "drive_train": {"load_inertia_kg_m2": 6.0, "rotor_inertia_kg_m2": 2.2},
    }
)
PLAIN = StartOptions(sampling_rate_hz=2500.0, running_s=2.0, ramp_s=4.0)


def test_a_direct_start_is_found_where_it_was_switched_on() -> None:
    """Within half a cycle of the truth; settled within a fifth of a second of full speed."""
    recording = simulate_start_of(MOTOR, PLAIN)
    (start,) = find_starts(recording)
    assert start.kind is StartKind.DIRECT
    assert not start.refused
    assert start.switched_on / 2500.0 == pytest.approx(recording.truth["switch_on_s"], abs=0.01)
    assert start.settled is not None
    length_s = (start.settled - start.switched_on) / 2500.0
    assert length_s == pytest.approx(recording.truth["time_to_speed_s"], rel=0.3)


def test_one_current_of_a_relay_is_enough_to_find_it() -> None:
    options = replace(PLAIN, sampling_rate_hz=1600.0, duration_s=4.0, roles=(Role.CURRENT_B,))
    (start,) = find_starts(simulate_start_of(MOTOR, options))
    assert not start.refused
    assert start.switched_on / 1600.0 == pytest.approx(0.5, abs=0.01)


@pytest.mark.parametrize(
    ("change", "kind", "said"),
    [
        ({"starting": Starting.SOFT_STARTER}, StartKind.SOFT_STARTER, "soft starter"),
        ({"starting": Starting.CONVERTER}, StartKind.CONVERTER, "converter"),
        ({"current_range": 4.0}, StartKind.DIRECT, "range"),
        ({"duration_s": 1.2}, StartKind.DIRECT, "ends"),
        ({"load_fraction": 1.6, "constant_torque": 1.6}, StartKind.DIRECT, "stalled"),
    ],
)
def test_what_cannot_be_read_is_refused_by_its_name(
    change: dict[str, object], kind: StartKind, said: str
) -> None:
    recording = simulate_start_of(MOTOR, replace(PLAIN, **change))  # type: ignore[arg-type]  # fields
    (start,) = find_starts(recording)
    assert start.kind is kind
    assert said in start.refused
