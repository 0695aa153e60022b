"""Every way of clamping and naming wrongly is caught or asked about; every right one passes."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace

import numpy as np
import pytest

from cagewise.conditioning import Ability, FindingCode, RoleProof, prove_roles
from cagewise.conditioning.findings import EVERYTHING
from cagewise.errors import ChannelRoleError
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.nameplate import Nameplate, Starting
from cagewise.measurement import Recording, Role
from cagewise.measurement.role_text import apply_role_texts, parse_role_options
from support.wiring import Wired, only, rewired

W = 2.0 * np.pi * 50.0

SMALL = Wired(
    # 3 kW reference motor of the simulation, cold rotor (docs/theory/simulation.md)
    circuit=EquivalentCircuit.from_values(
        stator_resistance_ohm=2.2,
        rotor_resistance_ohm=1.6555,
        stator_leakage_h=0.17832 - 0.17140,
        rotor_leakage_h=0.17958 - 0.17140,
        magnetizing_inductance_h=0.17140,
    ),
    nameplate=Nameplate(
        rated_power_w=3000.0,
        rated_voltage_v=380.0,
        rated_frequency_hz=50.0,
        rated_speed_rpm=1420.0,
        rated_current_a=6.7,
        poles=4,
    ),
)
MIDDLE = Wired(
    # 18.5 kW set of the Modelica Standard Library documentation: 0.56, 1.52, 66.4, 2.31, 0.42 ohm
    circuit=EquivalentCircuit.from_values(
        stator_resistance_ohm=0.56,
        rotor_resistance_ohm=0.42,
        stator_leakage_h=1.52 / W,
        rotor_leakage_h=2.31 / W,
        magnetizing_inductance_h=66.4 / W,
    ),
    nameplate=Nameplate(
        rated_power_w=18500.0,
        rated_voltage_v=400.0 * 3.0**0.5,
        rated_frequency_hz=50.0,
        rated_speed_rpm=1462.5,
        rated_current_a=32.85 / 3.0**0.5,
        poles=4,
    ),
)
LARGE = Wired(
    # invented 2 MW, 6.6 kV, two-pole machine: r 0.6 %, x 9 % + 10 %, magnetizing 400 %, slip 0.6 %
    circuit=EquivalentCircuit.from_values(
        stator_resistance_ohm=0.006 * 18.6,
        rotor_resistance_ohm=0.0056 * 18.6,
        stator_leakage_h=0.09 * 18.6 / W,
        rotor_leakage_h=0.10 * 18.6 / W,
        magnetizing_inductance_h=4.0 * 18.6 / W,
    ),
    nameplate=Nameplate(
        rated_power_w=2.0e6,
        rated_voltage_v=6600.0,
        rated_frequency_hz=50.0,
        rated_speed_rpm=2982.0,
        rated_current_a=203.0,
        poles=2,
    ),
)
MOTORS = {"3 kW": SMALL, "18.5 kW": MIDDLE, "2 MW": LARGE}
ORDERS = list(itertools.permutations(range(3)))
SIGNS = list(itertools.product((1, -1), repeat=3))


def remedies(error: ChannelRoleError) -> list[list[str]]:
    """Return the alternatives that an error offers, each as its options."""
    parts = [re.findall(r'--role "([^"]+)"', part) for part in error.remedy.split("; or ")]
    return [part for part in parts if part]


def applied(recording: Recording, options: list[str]) -> Recording:
    return apply_role_texts(recording, parse_role_options(options))


def power_factor_angle(recording: Recording) -> float:
    """Return the lag in degrees by the definition of power, from the samples alone."""
    find = {c.role: c.samples for c in recording.channels}
    i_a, i_b, i_c = find[Role.CURRENT_A], find[Role.CURRENT_B], find[Role.CURRENT_C]
    if Role.VOLTAGE_AB in find:
        v_ab, v_bc, v_ca = (find[r] for r in (Role.VOLTAGE_AB, Role.VOLTAGE_BC, Role.VOLTAGE_CA))
        v_a, v_b, v_c = (v_ab - v_ca) / 3.0, (v_bc - v_ab) / 3.0, (v_ca - v_bc) / 3.0
    else:
        v_a, v_b, v_c = (find[r] for r in (Role.VOLTAGE_A, Role.VOLTAGE_B, Role.VOLTAGE_C))
    active = np.mean(v_a * i_a + v_b * i_b + v_c * i_c)
    reactive = np.mean((v_b - v_c) * i_a + (v_c - v_a) * i_b + (v_a - v_b) * i_c) / 3.0**0.5
    return float(np.degrees(np.arctan2(reactive, active)))


def outcome(recording: Recording, nameplate: Nameplate) -> RoleProof | ChannelRoleError:
    try:
        return prove_roles(recording, nameplate)
    except ChannelRoleError as error:
        return error


def asked(proof: RoleProof) -> list[str]:
    return [f.message for f in proof.findings if f.code is FindingCode.ROLE_AMBIGUOUS]


@pytest.mark.parametrize("load", [0.01, 0.25, 0.5, 1.0])
@pytest.mark.parametrize("motor", MOTORS)
def test_of_48_ways_to_clamp_three_currents_only_the_right_one_is_accepted(
    motor: str, load: float
) -> None:
    wired = replace(MOTORS[motor], load=load)
    right = wired.recording()
    lag = power_factor_angle(right)
    for order, signs in itertools.product(ORDERS, SIGNS):
        wrong = rewired(right, "I", order, signs)
        is_right = order == (0, 1, 2) and signs == (1, 1, 1)
        found = outcome(wrong, wired.nameplate)
        if isinstance(found, RoleProof):
            assert is_right or asked(found)
            assert not (found.proven and asked(found))
            continue
        assert not is_right
        mended = [applied(wrong, options) for options in remedies(found)]
        lags = [prove_roles(recording, wired.nameplate).lag_deg or 0.0 for recording in mended]
        assert min(abs(lag - other) for other in lags) < 0.1
        assert len(lags) == 1 or load < 0.3


@pytest.mark.parametrize("motor", MOTORS)
def test_loaded_motors_are_proven_not_merely_accepted(motor: str) -> None:
    wired = replace(MOTORS[motor], load=0.8)
    proof = prove_roles(wired.recording(), wired.nameplate)
    assert proof.proven
    assert proof.assignments_tested == 48
    assert proof.assignments_fitting == 1
    assert proof.lag_deg == pytest.approx(power_factor_angle(wired.recording()), abs=0.1)


def test_swaps_of_voltages_and_currents_together() -> None:
    """A thirteenth of the 2304 combined miswirings; a common renaming is harmless and accepted."""
    wired = replace(SMALL, line_voltages=False)
    right = wired.recording()
    lag = power_factor_angle(right)
    accepted = 0
    for case, (order_v, signs_v, order_i, signs_i) in enumerate(
        itertools.product(ORDERS, SIGNS, ORDERS, SIGNS)
    ):
        harmless = order_v == order_i and len({*signs_v, *signs_i}) == 1
        if case % 13 and not harmless:
            continue
        wrong = rewired(rewired(right, "U", order_v, signs_v), "I", order_i, signs_i)
        found = outcome(wrong, wired.nameplate)
        assert isinstance(found, RoleProof) == harmless
        if isinstance(found, RoleProof):
            assert found.proven
            assert found.sequence == (1 if order_v in ((0, 1, 2), (1, 2, 0), (2, 0, 1)) else -1)
            accepted += 1
        else:
            assert len(remedies(found)) == 1
            mended = applied(wrong, remedies(found)[0])
            turned = prove_roles(mended, wired.nameplate).sequence
            assert turned * power_factor_angle(mended) == pytest.approx(lag, abs=0.1)
    assert accepted == 12


def test_reversed_turning_sense_is_harmless_and_said() -> None:
    wired = replace(SMALL, sequence=-1)
    proof = prove_roles(wired.recording(), wired.nameplate)
    assert proof.proven
    assert proof.sequence == -1
    assert FindingCode.NEGATIVE_SEQUENCE in {f.code for f in proof.findings}


def test_line_voltages_named_as_phase_voltages() -> None:
    recording = SMALL.recording()
    named = recording.with_roles({"U1": Role.VOLTAGE_A, "U2": Role.VOLTAGE_B, "U3": Role.VOLTAGE_C})
    with pytest.raises(ChannelRoleError, match="the size of line voltages") as caught:
        prove_roles(named, SMALL.nameplate)
    assert remedies(caught.value) == [["U1=v_ab", "U2=v_bc", "U3=v_ca"]]


def test_phase_voltages_named_as_line_voltages() -> None:
    recording = replace(SMALL, line_voltages=False, zero_sequence=0.2).recording()
    named = recording.with_roles(
        {"U1": Role.VOLTAGE_AB, "U2": Role.VOLTAGE_BC, "U3": Role.VOLTAGE_CA}
    )
    with pytest.raises(ChannelRoleError, match="the size of phase-to-neutral") as caught:
        prove_roles(named, SMALL.nameplate)
    assert remedies(caught.value) == [["U1=v_a", "U2=v_b", "U3=v_c"]]


def test_zero_sequence_of_phase_voltages_is_no_fault() -> None:
    """An earth fault on an unearthed supply: v_a vanishes nearly, line voltages stay balanced."""
    wired = replace(SMALL, line_voltages=False, zero_sequence=0.9)
    assert prove_roles(wired.recording(), wired.nameplate).proven


DISTURBED = {
    "supply unbalance 3 %": {"voltage_unbalance": 0.03 * np.exp(1j)},
    "fifth harmonic 25 %": {"harmonics": 0.25},
    "direct offset as large as the signal": {"direct_offset": 1.0},
    "noise 10 %": {"noise": 0.1},
    "60 Hz": {"frequency_hz": 60.0},
    "16.7 Hz": {"frequency_hz": 16.7, "duration_s": 2.0},
    "47.3 Hz, block no whole number of samples": {"frequency_hz": 47.3, "sampling_rate_hz": 1013.0},
}


@pytest.mark.parametrize("what", DISTURBED)
@pytest.mark.parametrize("load", [0.02, 1.0])
def test_disturbances_break_nothing(what: str, load: float) -> None:
    wired = replace(SMALL, load=load, **DISTURBED[what])
    right = wired.recording()
    proof = prove_roles(right, wired.nameplate)
    assert proof.proven or asked(proof) or load < 0.1
    with pytest.raises(ChannelRoleError):
        prove_roles(rewired(right, "I", (0, 1, 2), (1, -1, 1)), wired.nameplate)
    with pytest.raises(ChannelRoleError):
        prove_roles(rewired(right, "I", (0, 1, 2), (-1, -1, -1)), wired.nameplate)
    with pytest.raises(ChannelRoleError):
        prove_roles(rewired(right, "I", (1, 0, 2), (1, 1, 1)), wired.nameplate)


@pytest.mark.parametrize("currents", [("I1", "I2"), ("I1", "I3"), ("I2", "I3"), ("I2",)])
@pytest.mark.parametrize("voltages", [("U1", "U2"), ("U1", "U3"), ("U2",)])
def test_reduced_sets(currents: tuple[str, ...], voltages: tuple[str, ...]) -> None:
    recording = only(SMALL.recording(), *currents, *voltages)
    proof = prove_roles(recording, SMALL.nameplate)
    assert proof.lag_deg == pytest.approx(power_factor_angle(SMALL.recording()), abs=0.2)
    assert proof.proven or asked(proof)
    reversed_all = rewired(recording, "I", tuple(range(len(currents))), (-1,) * len(currents))
    with pytest.raises(ChannelRoleError) as caught:
        prove_roles(reversed_all, SMALL.nameplate)
    mended = [applied(reversed_all, options) for options in remedies(caught.value)]
    lags = [prove_roles(one, SMALL.nameplate).lag_deg for one in mended]
    assert proof.lag_deg in [pytest.approx(lag, abs=0.1) for lag in lags]
    if len(currents) == 2:
        with pytest.raises(ChannelRoleError):
            prove_roles(rewired(recording, "I", (0, 1), (1, -1)), SMALL.nameplate)


SMALL_ROLE = {"I1": "i_a", "I2": "i_b", "I3": "i_c"}


def test_currents_alone_catch_one_reversed_clamp_and_prove_the_rest() -> None:
    recording = only(SMALL.recording(), "I1", "I2", "I3")
    assert prove_roles(recording, SMALL.nameplate).proven
    for row in range(3):
        signs = tuple(-1 if k == row else 1 for k in range(3))
        with pytest.raises(ChannelRoleError) as caught:
            prove_roles(rewired(recording, "I", (0, 1, 2), signs), SMALL.nameplate)
        name = f"I{row + 1}"
        assert remedies(caught.value) == [[f"{name}=-{SMALL_ROLE[name]}"]]


def test_one_current_alone_needs_no_proof_but_being_a_sine() -> None:
    proof = prove_roles(only(SMALL.recording(), "I2"), SMALL.nameplate)
    assert proof.proven
    assert "of the alternating power" in proof.statements[0]


def test_single_phasing_is_not_an_error_but_not_a_proof() -> None:
    recording = SMALL.recording()
    a, b, _ = (c for c in recording.channels if c.name[0] == "I")
    channels = tuple(
        replace(c, raw={"I2": -a.raw, "I3": 0.001 * b.raw}.get(c.name, c.raw))
        for c in recording.channels
    )
    proof = prove_roles(replace(recording, channels=channels), SMALL.nameplate)
    assert not proof.proven
    assert FindingCode.ROLE_UNCHECKED in {f.code for f in proof.findings}


def test_roles_without_names_are_proposed_never_used() -> None:
    recording = SMALL.recording()
    unnamed = recording.with_roles({c.name: Role.UNASSIGNED for c in recording.channels})
    with pytest.raises(ChannelRoleError) as caught:
        prove_roles(unnamed, SMALL.nameplate)
    assert remedies(caught.value) == [
        ["I1=i_a", "I2=i_b", "I3=i_c", "U1=v_ab", "U2=v_bc", "U3=v_ca"]
    ]
    assert prove_roles(applied(unnamed, remedies(caught.value)[0]), SMALL.nameplate).proven


def test_a_proposal_sees_through_wrong_order_missing_units_and_reversal() -> None:
    recording = rewired(SMALL.recording(), "I", (2, 0, 1), (-1, -1, -1))
    channels = tuple(replace(c, unit="", role=Role.UNASSIGNED) for c in recording.channels)
    unnamed = replace(recording, channels=channels)
    with pytest.raises(ChannelRoleError) as caught:
        prove_roles(unnamed, SMALL.nameplate)
    mended = applied(unnamed, remedies(caught.value)[0])
    assert power_factor_angle(mended) == pytest.approx(
        power_factor_angle(SMALL.recording()), abs=0.1
    )


@pytest.mark.parametrize(
    ("field", "factor", "code", "advice"),
    [
        ("current_factor", 1.0 / 16.0, FindingCode.CURRENT_MAGNITUDE, "ratio"),
        ("current_factor", 1000.0, FindingCode.CURRENT_MAGNITUDE, "i_a*0.001"),
        ("current_factor", 0.001, FindingCode.NOT_RUNNING, "i_a*1000"),
        ("voltage_factor", 0.001, FindingCode.VOLTAGE_MAGNITUDE, "v_ab*1000"),
        ("voltage_factor", 110.0 / 380.0, FindingCode.VOLTAGE_MAGNITUDE, "v_ab*3.45"),
    ],
)
def test_magnitudes_that_cannot_be_the_motors(
    field: str, factor: float, code: FindingCode, advice: str
) -> None:
    wired = replace(SMALL, **{field: factor})  # type: ignore[arg-type]
    proof = prove_roles(wired.recording(), wired.nameplate)
    finding = next(f for f in proof.findings if f.code is code)
    assert advice in finding.remedy
    assert Ability.LOAD in finding.blocks


@pytest.mark.parametrize(("frequency_hz", "stops"), [(60.0, False), (45.5, False), (5.0, True)])
def test_a_frequency_that_no_mains_has_stops_everything(frequency_hz: float, stops: bool) -> None:  # noqa: FBT001 # a case of the table
    """A wrong sampling rate scales every frequency; a motor for 50 Hz may be run on 60 Hz."""
    wired = replace(SMALL, frequency_hz=frequency_hz, voltage_factor=frequency_hz / 50.0)
    findings = prove_roles(wired.recording(), wired.nameplate).findings
    said = [f for f in findings if f.code is FindingCode.FREQUENCY_MAGNITUDE]
    assert bool(said) == (frequency_hz != 45.5)
    assert bool(said and said[0].blocks >= EVERYTHING) == stops


def test_two_feeders_are_named_when_roles_are_asked_for() -> None:
    recording = SMALL.recording()
    unnamed = recording.with_roles({c.name: Role.UNASSIGNED for c in recording.channels})
    note = "roles of current not guessed: more than one channel suggests the same phase"
    origin = replace(unnamed.provenance, notes=("decimal comma", note))
    with pytest.raises(ChannelRoleError, match="more than one channel") as caught:
        prove_roles(replace(unnamed, provenance=origin), SMALL.nameplate)
    assert "decimal comma" not in caught.value.what


def test_one_clamp_with_a_wrong_ratio_is_no_naming_problem() -> None:
    recording = SMALL.recording()
    wrong = applied(recording, ["I2=i_b*10"])
    with pytest.raises(ChannelRoleError, match="right ratios"):
        prove_roles(wrong, SMALL.nameplate)
    slightly = prove_roles(applied(recording, ["I2=i_b*1.25"]), SMALL.nameplate)
    assert slightly.proven
    residual = next(f for f in slightly.findings if f.code is FindingCode.RESIDUAL_CURRENT)
    # 0.25/3 of a current whose prevailing sequence is 1 + 0.25/3
    assert residual.value == pytest.approx(0.25 / 3.0 / (1.0 + 0.25 / 3.0), abs=0.002)


@pytest.mark.parametrize(("frequency_hz", "flux"), [(25.0, 1.0), (75.0, 50.0 / 75.0)])
def test_converters_keep_flux_below_and_voltage_above_rated_frequency(
    frequency_hz: float, flux: float
) -> None:
    plate = replace(SMALL.nameplate, starting=Starting.CONVERTER)
    wired = replace(
        SMALL, nameplate=plate, frequency_hz=frequency_hz, voltage_factor=flux, current_factor=flux
    )
    proof = prove_roles(wired.recording(), plate)
    assert not {f.code for f in proof.findings} & {
        FindingCode.VOLTAGE_MAGNITUDE,
        FindingCode.FREQUENCY_MAGNITUDE,
    }
    assert proof.proven or asked(proof)


def compensated(wired: Wired, reactive_part: float) -> Recording:
    """Return the record of a motor with capacitors behind the clamps."""
    v1, _, i1, _ = wired.phasors()
    recording = wired.recording()
    angle = W * np.arange(recording.n_samples) / recording.sampling_rate_hz
    extra = {
        role: -reactive_part * i1.imag * np.real(1j * np.exp(1j * (angle - 2.0 * np.pi / 3.0 * k)))
        for k, role in enumerate((Role.CURRENT_A, Role.CURRENT_B, Role.CURRENT_C))
    }
    assert v1.imag == 0.0
    channels = tuple(replace(c, raw=c.raw + extra.get(c.role, 0.0)) for c in recording.channels)
    return replace(recording, channels=channels)


def test_capacitors_behind_the_clamps_are_unusual_but_possible() -> None:
    recording = compensated(MIDDLE, 1.0)
    assert power_factor_angle(recording) == pytest.approx(0.0, abs=1.0)
    proof = prove_roles(recording, MIDDLE.nameplate)
    assert not proof.proven
    assert FindingCode.ROLE_UNUSUAL in {f.code for f in proof.findings}


def test_what_another_wiring_would_explain_better_is_asked_and_accepted_when_confirmed() -> None:
    recording = compensated(replace(MIDDLE, load=0.5), 1.5)
    with pytest.raises(ChannelRoleError, match="should lag by"):
        prove_roles(recording, MIDDLE.nameplate)
    proof = prove_roles(recording, MIDDLE.nameplate, confirmed=True)
    assert FindingCode.ROLE_UNUSUAL in {f.code for f in proof.findings}
    assert not proof.proven


@pytest.mark.parametrize("confirmed", [False, True])
def test_physics_overrules_confirmation(*, confirmed: bool) -> None:
    reversed_all = rewired(compensated(MIDDLE, 0.5), "I", (0, 1, 2), (-1, -1, -1))
    with pytest.raises(ChannelRoleError):
        prove_roles(reversed_all, MIDDLE.nameplate, confirmed=confirmed)
