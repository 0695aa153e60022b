"""The recipe's wiring: what stops it, what is withheld, which recording leads."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from cagewise.conditioning import Ability, FindingCode, QualityFinding, Severity
from cagewise.decision.examination import Settings
from cagewise.decision.verdict import State
from cagewise.errors import ChannelRoleError
from cagewise.evidence.findings import Ground, Hypothesis, Support
from cagewise.indicators.cage.catalogue import CageReadings
from cagewise.machine.motor import Motor
from cagewise.measurement import Recording, Role
from cagewise.pipeline import examine, examine_visit, looking, running
from cagewise.quantities import Estimate, NotKnown
from support.examinations import LIMITS, damaged, lead_of, motor, operating_point
from support.synthetic import Synthetic

SETTINGS = Settings(limits=LIMITS)
PUMP = motor()
RECORD = Synthetic(
    sampling_rate_hz=2000.0,
    duration_s=8.0,
    line_voltage_rms_v=690.0,
    current_rms_a=190.0,
    lag_rad=0.55,
    noise_db=-60.0,
)


@pytest.fixture
def known_readings(monkeypatch: pytest.MonkeyPatch) -> dict[str, object]:
    """Replace operating point and indicators by known ones; the test sees what they were given."""
    seen: dict[str, object] = {}

    def find_operating_point(frame: object, *_: object) -> object:
        seen["frame"] = frame
        seen["speed_rpm"] = _[-1]
        return operating_point()

    def read_cage(*_: object) -> CageReadings:
        return CageReadings(readings=damaged(), spectra=())

    monkeypatch.setattr(running, "find_operating_point", find_operating_point)
    monkeypatch.setattr(running, "read_cage", read_cage)
    return seen


def with_finding(
    monkeypatch: pytest.MonkeyPatch, *blocks: Ability, message: str = "I L1 is clipped."
) -> None:
    finding = QualityFinding(
        code=FindingCode.CLIPPING,
        severity=Severity.BLOCKING,
        message=message,
        blocks=frozenset(blocks),
    )
    monkeypatch.setattr(looking, "judge_quality", lambda *_, **__: (finding,))


@pytest.mark.usefixtures("known_readings")
def test_readings_become_evidence_state_and_recommendation() -> None:
    examination = examine(PUMP, RECORD.recording(), SETTINGS)

    assert examination.verdict.state is State.DEFECTIVE
    assert lead_of(examination).readings == damaged()
    assert lead_of(examination).currents_measured == 3
    assert lead_of(examination).voltages_measured == 3
    assert lead_of(examination).roles_proven
    assert lead_of(examination).stretch_s == pytest.approx((0.0, 8.0), abs=0.5)


def test_the_stated_speed_reaches_the_operating_point(known_readings: dict[str, object]) -> None:
    speed = Estimate(1487.0, 1486.0, 1488.0)
    examine(PUMP, RECORD.recording(), replace(SETTINGS, speed_rpm=speed))

    assert known_readings["speed_rpm"] is speed


@pytest.mark.usefixtures("known_readings")
@pytest.mark.parametrize(
    ("blocked", "withheld"),
    [
        (Ability.HARMONIC_LINES, {"harmonic_lines"}),
        (Ability.DIRECT_COMPONENT, {"direct_component"}),
        (
            Ability.FUNDAMENTAL_LINES,
            {"direct_component", "lower_side_line", "envelope_amplitude"},
        ),
    ],
)
def test_what_a_quality_finding_blocks_is_withheld_with_its_reason(
    monkeypatch: pytest.MonkeyPatch, blocked: Ability, withheld: set[str]
) -> None:
    with_finding(monkeypatch, blocked)
    readings = lead_of(examine(PUMP, RECORD.recording(), SETTINGS)).readings

    assert {r.name for r in readings if not r.valid} == withheld
    for reading in readings:
        if not reading.valid:
            assert reading.reason == "I L1 is clipped"
            assert reading.value is None
            assert reading.open_bar_equivalent is None


def test_voltages_that_cannot_be_used_are_set_aside(
    monkeypatch: pytest.MonkeyPatch, known_readings: dict[str, object]
) -> None:
    with_finding(monkeypatch, Ability.VOLTAGE_FRAME, Ability.POWER)
    lead = lead_of(examine(PUMP, RECORD.recording(), SETTINGS))

    assert lead.voltages_measured == 0
    assert not getattr(known_readings["frame"], "from_voltage", True)
    (supply,) = lead.evidence.about(Hypothesis.SUPPLY_MODULATION)
    assert supply.ground is Ground.VOLTAGE_NOT_MEASURED


def test_a_finding_that_blocks_everything_ends_the_recipe_with_its_reason(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    with_finding(monkeypatch, *Ability, message="The motor is not running.")
    examination = examine(PUMP, RECORD.recording(), SETTINGS)

    assert examination.verdict.state is State.NOT_DECIDABLE
    assert lead_of(examination).stopped == "the motor is not running"
    assert lead_of(examination).operating_point == NotKnown("the motor is not running")
    assert lead_of(examination).readings == ()


@pytest.mark.parametrize("seconds", [0.5, 1.0])
def test_a_stretch_too_short_for_the_frame_ends_the_recipe(seconds: float) -> None:
    examination = examine(PUMP, replace(RECORD, duration_s=seconds).recording(), SETTINGS)

    assert examination.verdict.state is State.NOT_DECIDABLE
    assert lead_of(examination).stopped


@pytest.mark.usefixtures("known_readings")
def test_the_length_is_judged_on_the_measured_slip() -> None:
    """Eight seconds are 5.7 periods of the measured 0.71 Hz; the nameplate had said otherwise."""
    findings = lead_of(examine(PUMP, RECORD.recording(), SETTINGS)).quality
    short = [f for f in findings if f.code is FindingCode.TOO_SHORT]

    assert len(short) == 1
    assert "quarter" not in short[0].message


def test_a_wrong_role_is_asked_about_never_used() -> None:
    recording = RECORD.recording()
    swapped = tuple(
        replace(c, role=Role.UNASSIGNED, name=f"x{k}") for k, c in enumerate(recording.channels)
    )

    with pytest.raises(ChannelRoleError):
        examine(PUMP, replace(recording, channels=swapped), SETTINGS)


@pytest.mark.usefixtures("known_readings")
def test_recordings_are_taken_one_at_a_time() -> None:
    alive: list[int] = []

    def recordings() -> Iterator[Recording]:
        for k in range(2):
            assert len(alive) == k  # the first was examined before the second was asked for
            yield RECORD.recording()

    def read_cage(*_: object) -> CageReadings:
        alive.append(1)
        return CageReadings(readings=damaged(), spectra=())

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(running, "read_cage", read_cage)
        examination = examine_visit(PUMP, recordings(), SETTINGS)

    assert len(examination.records) == 2


def test_the_recording_that_tells_most_leads(monkeypatch: pytest.MonkeyPatch) -> None:
    limits = iter([0.4, 0.05])

    def read_cage(*_: object) -> CageReadings:
        limit = next(limits)
        readings = tuple(replace(r, detection_limit_bars=limit) for r in damaged())
        return CageReadings(readings=readings, spectra=())

    monkeypatch.setattr(running, "find_operating_point", lambda *_: operating_point())
    monkeypatch.setattr(running, "read_cage", read_cage)
    examination = examine_visit(PUMP, [RECORD.recording()] * 2, SETTINGS)

    assert examination.records.index(lead_of(examination)) == 1


@pytest.mark.usefixtures("known_readings")
def test_the_trend_is_the_line_current_in_rms() -> None:
    trend = lead_of(examine(PUMP, RECORD.recording(), SETTINGS)).trend

    assert trend is not None
    assert np.mean(trend.line_current_rms_a) == pytest.approx(190.0, rel=0.005)
    assert trend.time_s[0] > 0.0
    assert trend.time_s.size <= 1200


@pytest.mark.usefixtures("known_readings")
def test_limits_in_force_are_used_when_none_are_given() -> None:
    assert examine(PUMP, RECORD.recording()).settings.limits == LIMITS


@pytest.mark.usefixtures("known_readings")
def test_warnings_of_the_motor_file_are_passed_on() -> None:
    odd: Motor = replace(PUMP, warnings=("the power factor is odd",))

    assert examine(odd, RECORD.recording(), SETTINGS).warnings == ("the power factor is odd",)


@pytest.mark.usefixtures("known_readings")
def test_findings_of_the_leading_recording_speak_for_themselves() -> None:
    lead = lead_of(examine(PUMP, RECORD.recording(), SETTINGS))

    assert {f.support for f in lead.evidence.about(Hypothesis.CAGE_DEFECT)} == {Support.FOR}


@pytest.mark.parametrize("speed_rpm", [-3.0, 300.0, 1100.0, 9999.0])
def test_a_stated_speed_that_cannot_be_is_said_to_be_wrong(speed_rpm: float) -> None:
    speed = Estimate(speed_rpm, speed_rpm - 1.0, speed_rpm + 1.0)
    lead = lead_of(examine(PUMP, RECORD.recording(), replace(SETTINGS, speed_rpm=speed)))

    assert lead.stopped.startswith(f"the stated speed of {speed_rpm:g} r/min cannot be that of 4")
    assert "between 1200 and 1500 r/min" in lead.stopped


@pytest.mark.usefixtures("known_readings")
def test_the_load_is_not_known_where_a_current_has_a_wrong_size() -> None:
    heavy = replace(RECORD, current_rms_a=2.5 * PUMP.nameplate.rated_current_a)
    point = lead_of(examine(PUMP, heavy.recording(), SETTINGS)).operating_point

    assert not isinstance(point, NotKnown)
    assert isinstance(point.load_fraction, NotKnown)
    assert "250 % of the rated" in point.load_fraction.reason
    assert "check ratio" in point.load_fraction.reason


@pytest.mark.usefixtures("known_readings")
def test_a_rate_that_sufficed_for_the_slip_is_not_complained_of() -> None:
    """Two kilohertz may be too few for the slot lines; here the slip was found all the same."""
    lead = lead_of(examine(PUMP, RECORD.recording(), SETTINGS))

    assert not any(f.code is FindingCode.LOW_RATE and not f.blocks for f in lead.quality)


def test_names_keep_their_capital_in_a_reason(monkeypatch: pytest.MonkeyPatch) -> None:
    finding = QualityFinding(
        code=FindingCode.DEAD_CHANNEL,
        severity=Severity.BLOCKING,
        message="Ia, Ib never changed.",
        channels=("Ia", "Ib"),
        blocks=frozenset(Ability),
    )
    monkeypatch.setattr(looking, "judge_quality", lambda *_, **__: (finding,))

    assert lead_of(examine(PUMP, RECORD.recording(), SETTINGS)).stopped == "Ia, Ib never changed"
