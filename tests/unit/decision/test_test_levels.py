"""Test levels advised: both wordings, sources, scopes, cautions."""

from __future__ import annotations

import pytest

from cagewise.decision.test_levels import (
    SourceStatus,
    TestLevel,
    VoltageKind,
    advise_test_levels,
)
from cagewise.machine.motor import Winding
from support.winding_scenes import motor


def levels(rated_v: float = 4160.0, construction: str | None = "form") -> dict[str, TestLevel]:
    about = motor(Winding(construction=construction), rated_voltage_v=rated_v)
    return {level.name: level for level in advise_test_levels(about)}


@pytest.mark.parametrize(
    ("name", "low_v", "high_v"),
    [
        ("insulation_resistance", 1000.0, 2500.0),  # IEEE 43-2000 Table 1 (secondary)
        ("maintenance_alternating_of_rated", 5200.0, 6240.0),  # IEEE 95 (secondary)
        ("maintenance_direct_of_rated", 8840.0, 10608.0),  # the same, times 1.7
        ("maintenance_alternating_of_acceptance", 6058.0, 6990.0),  # its other wording
        ("maintenance_direct_of_acceptance", 10298.6, 11883.0),  # the same, times 1.7
        ("acceptance_alternating", 9320.0, 9320.0),  # IEC 60034-1
        ("acceptance_direct", 15844.0, 15844.0),  # IEEE 95-2002 (from memory)
        ("surge_new", 11888.1, 11888.1),  # IEEE 522-2004 cl. 6 (from memory)
        ("surge_in_service", 8916.1, 8916.1),  # IEEE 522-2004 (from memory)
        ("impulse_full", 21640.0, 21640.0),  # IEC 60034-15 (from memory)
        ("impulse_steep", 14066.0, 14066.0),  # IEC 60034-15 (from memory)
    ],
)
def test_levels_of_a_4160_v_motor(name: str, low_v: float, high_v: float) -> None:
    level = levels()[name]
    assert (level.low_v, level.high_v) == pytest.approx((low_v, high_v), abs=0.1)


def test_both_wordings_are_listed_with_the_form_used() -> None:
    """They differ by 12 to 17 % at 4 160 V (arithmetic on the IEEE 95 sentence)."""
    found = levels()
    assert found["maintenance_direct_of_rated"].form == "125 to 150 % of E, times 1.7"
    assert found["maintenance_direct_of_acceptance"].form == "65 to 75 % of 2E + 1000, times 1.7"
    for name in ("maintenance_direct_of_rated", "maintenance_alternating_of_acceptance"):
        assert any("17 % (lower end) and 12 % (upper end)" in r for r in found[name].remarks)


def test_every_level_states_source_status_and_caution() -> None:
    for level in levels().values():
        assert level.source
        assert level.status in {SourceStatus.SECONDARY, SourceStatus.MEMORY}
        assert 0.0 < level.low_v <= level.high_v
        assert any("lock out" in remark for remark in level.remarks)
        discharged = any("earth the winding at least 4 times" in r for r in level.remarks)
        assert discharged == (level.kind is VoltageKind.DIRECT)


def test_overvoltage_below_2300_v_is_out_of_scope() -> None:
    """IEEE 95 applies from 2 300 V on (secondary)."""
    for rated_v, inside in ((2299.0, False), (2300.0, True)):
        found = levels(rated_v)
        for name in ("maintenance_direct_of_rated", "acceptance_direct"):
            assert found[name].in_scope is inside
            assert any("2300 V and above" in r for r in found[name].remarks) is not inside


@pytest.mark.parametrize(
    ("construction", "inside"), [("form", True), ("random", False), (None, None)]
)
def test_surge_and_impulse_are_for_form_wound_coils(
    construction: str | None,
    inside: bool | None,  # noqa: FBT001  # a column of the table
) -> None:
    """IEEE 522-2004, abstract (read); IEC 60034-15 (from memory)."""
    for name in ("surge_new", "surge_in_service", "impulse_full", "impulse_steep"):
        level = levels(construction=construction)[name]
        assert level.in_scope is inside
        assert any("form-wound" in remark for remark in level.remarks)


def test_impulse_of_a_low_voltage_motor_is_out_of_scope() -> None:
    level = levels(460.0)["impulse_full"]
    assert level.in_scope is False
    assert any("3 to 24 kV" in remark for remark in level.remarks)
