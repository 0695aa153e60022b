"""Roles from names and units: careful, in several languages, and never two feeders at once."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cagewise.errors import ChannelRoleError
from cagewise.measurement import Channel, Provenance, Recording
from cagewise.measurement.roles import (
    apply_roles,
    guess_missing_roles,
    guess_role,
    parse_role_options,
)


def recording_of(*channels: tuple[str, str]) -> Recording:
    return Recording(
        channels=tuple(
            Channel(name=name, raw=np.arange(1.0, 4.0), unit=unit) for name, unit in channels
        ),
        sampling_rate_hz=1000.0,
        provenance=Provenance(source="test", format_name="test"),
    )


def guessed(*channels: tuple[str, str]) -> list[str]:
    return [channel.role.value for channel in guess_missing_roles(recording_of(*channels)).channels]


@pytest.mark.parametrize(
    ("name", "unit", "role"),
    [
        # quantity and phase in one word
        ("ia", "", "i_a"),
        ("Ia", "A", "i_a"),
        ("I_a", "A", "i_a"),
        ("il1", "A", "i_a"),
        ("IL2", "", "i_b"),
        ("i1", "A", "i_a"),
        ("iR", "A", "i_a"),
        ("IS", "A", "i_b"),
        ("IT", "A", "i_c"),
        ("IU", "A", "i_a"),
        ("Iph3", "A", "i_c"),
        ("va", "V", "v_a"),
        ("ua", "V", "v_a"),
        ("UL1", "V", "v_a"),
        ("ul1-n", "V", "v_a"),
        ("V1N", "V", "v_a"),
        ("u12", "V", "v_ab"),
        ("U31", "V", "v_ca"),
        ("vab", "V", "v_ab"),
        ("ul1l2", "V", "v_ab"),
        ("U_L2_L3", "V", "v_bc"),
        ("VRS", "V", "v_ab"),
        ("UUV", "V", "v_ab"),
        ("i_c", "", "i_c"),
        ("v_bc", "", "v_bc"),
        # words in six languages
        ("I phase A", "", "i_a"),
        ("L1 current", "", "i_a"),
        ("Phase B Voltage", "V", "v_b"),
        ("Strom L2", "", "i_b"),
        ("Spannung L1-L2", "", "v_ab"),
        ("Courant phase 1", "", "i_a"),
        ("Tension U12", "V", "v_ab"),
        ("Corriente fase R", "", "i_a"),
        ("Tensión RS", "", "v_ab"),
        ("Corrente fase T", "", "i_c"),
        ("Tensão AB", "", "v_ab"),
        ("Ström L1", "", "i_a"),
        ("Spänning L3", "", "v_c"),
        # bare phases need a unit
        ("a", "V", "v_a"),
        ("A", "A", "i_a"),
        ("L3", "A", "i_c"),
        ("R", "A", "i_a"),
        ("A", "", "unassigned"),
        ("L1", "", "unassigned"),
        ("1", "A", "unassigned"),
        ("CH1", "A", "unassigned"),
        ("column 1", "", "unassigned"),
        # other words around, numbering, letters that only look Latin
        ("HV Bus VR", "V", "v_a"),
        ("1-Ia", "A", "i_a"),
        ("Pump 3 IL1", "A", "i_a"),
        ("Iв", "A", "i_b"),
        # no phase quantity
        ("3I0", "A", "other"),
        ("IN", "A", "other"),
        ("VN", "V", "other"),
        ("I DIFF LA", "A", "other"),
        ("IL1 rms", "A", "other"),
        ("Residual current", "A", "other"),
        ("vibration", "mm/s", "other"),
        ("ia", "Hz", "other"),
        # could be read in two ways, or in none
        ("U", "V", "unassigned"),
        ("UV", "V", "unassigned"),
        ("U13", "V", "unassigned"),
        ("Ia", "V", "unassigned"),
        ("Strom", "V", "unassigned"),
        ("I4", "A", "unassigned"),
        ("Ua side b Ub", "V", "unassigned"),
        ("pressure", "", "unassigned"),
        ("", "", "unassigned"),
    ],
)
def test_single_names(name: str, unit: str, role: str) -> None:
    assert guess_role(name, unit).value == role


@given(st.text(max_size=20), st.sampled_from(["", "A", "V", "Hz"]))
def test_no_name_is_too_strange(name: str, unit: str) -> None:
    assert guess_role(name, unit).value
    assert len(guessed((name, unit), (name + "x", unit))) == 2


def test_company_settles_names_with_two_readings() -> None:
    assert guessed(("UV", ""), ("VW", ""), ("WU", "")) == ["v_ab", "v_bc", "v_ca"]
    assert guessed(("UU", "V"), ("UV", "V"), ("UW", "V")) == ["v_a", "v_b", "v_c"]
    assert guessed(("U", "V"), ("V", "V"), ("W", "V")) == ["v_a", "v_b", "v_c"]


def test_two_feeders_are_not_guessed_but_their_bus_voltage_is() -> None:
    recording = guess_missing_roles(
        recording_of(("Ia1", "A"), ("Ib1", "A"), ("Ia2", "A"), ("Ib2", "A"), ("Ua", "V"))
    )
    assert [c.role.value for c in recording.channels] == [*["unassigned"] * 4, "v_a"]
    (note,) = recording.provenance.notes
    assert "two feeders" in note
    assert all(repr(name) in note for name in ("Ia1", "Ib1", "Ia2", "Ib2"))


def test_one_numbered_feeder_is_guessed() -> None:
    assert guessed(("Ia1", "A"), ("Ib1", "A"), ("Ic1", "A")) == ["i_a", "i_b", "i_c"]


def test_symmetrical_components_are_not_phases() -> None:
    assert guessed(("I1", "A"), ("I2", "A"), ("I0", "A")) == ["unassigned", "unassigned", "other"]
    assert guessed(("I1", "A"), ("I2", "A"), ("I3", "A"), ("I0", "A"))[:3] == ["i_a", "i_b", "i_c"]


def test_mixed_naming_is_not_guessed() -> None:
    assert guessed(("Ia", "A"), ("I2", "A"), ("IT", "A")) == ["unassigned"] * 3


def test_line_voltage_against_the_sequence_is_asked_about() -> None:
    recording = guess_missing_roles(recording_of(("Uab", "V"), ("Ubc", "V"), ("Uac", "V")))
    assert {c.role.value for c in recording.channels} == {"unassigned"}
    assert "-v_ca" in recording.provenance.notes[0]


def test_stated_roles_win_and_are_taken_from_others() -> None:
    recording = guess_missing_roles(recording_of(("IL1", "A"), ("IL2", "A"), ("CH3", "A")))
    stated = apply_roles(recording, {"CH3": "-i_a*100"})
    assert [c.role.value for c in stated.channels] == ["unassigned", "i_b", "i_a"]
    np.testing.assert_array_equal(stated.channels[2].samples, [-100.0, -200.0, -300.0])
    assert "CH3=-i_a*100" in stated.provenance.steps[-1]


def test_options_become_roles() -> None:
    texts = {name: str(text) for name, text in parse_role_options(["IL1=i_a", "IL2=-i_b"]).items()}
    recording = apply_roles(recording_of(("IL1", "A"), ("IL2", "A")), texts)
    assert [c.role.value for c in recording.channels] == ["i_a", "i_b"]
    assert recording.channels[1].scale == -1.0


def test_unknown_channels_and_double_roles_are_refused() -> None:
    recording = recording_of(("x", "A"), ("y", "A"))
    with pytest.raises(ChannelRoleError, match="The channels are: x, y"):
        apply_roles(recording, {"z": "i_a"})
    with pytest.raises(ChannelRoleError, match="both claim"):
        apply_roles(recording, {"x": "i_a", "y": "i_a"})
