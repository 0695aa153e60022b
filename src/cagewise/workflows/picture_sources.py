"""Where the pictures of an examination come from: recording, start, test sheets, motor."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace

from cagewise.conditioning import StatorSignals, supply_frame
from cagewise.conditioning.starts import MotorStart
from cagewise.decision.examination import Settings
from cagewise.decision.limits import Limits, load_limits
from cagewise.errors import NotKeptError
from cagewise.indicators.standstill.positions import read_positions
from cagewise.indicators.start.side_line_track import StartTrack, read_side_line_track
from cagewise.indicators.start.track_signals import start_signals
from cagewise.indicators.winding.limits import InsulationLimits
from cagewise.machine.estimate import circuit_ensemble
from cagewise.machine.motor import Motor
from cagewise.measurement import Recording, Role, TestSheet
from cagewise.pictures import beat, running, start
from cagewise.pictures.expected import expected_pictures
from cagewise.pictures.insulation import InsulationScene, insulation_pictures
from cagewise.pictures.parts import Drawn
from cagewise.pictures.standstill import position_pictures, resistance_picture
from cagewise.pictures.whole_spectrum import whole_spectrum_picture
from cagewise.pipeline.looking import look_at
from cagewise.quantities import NotKnown
from cagewise.store import KeptRecording, KeptSheet, Plant
from cagewise.store.records import ExaminationDocument
from cagewise.workflows.kept_document import (
    KeptDocument,
    Plain,
    by_name,
    operating_point_in,
    readings_in,
)
from cagewise.workflows.plant_decode import load_sheet

NO_RUNNING = "the motor was not recorded running on this visit"
NO_STRETCH = "the motor never ran steadily in this recording"
NO_START = "no start was recorded on this visit"
NO_SHEET = "nothing was tested at rest on this visit"
OTHER_START_S = 0.05
"""A start further from the stated one is another."""


@dataclass(frozen=True, kw_only=True)
class Source:
    """An examination with what it was made from."""

    plant: Plant
    motor: Motor
    kept: ExaminationDocument
    document: KeptDocument

    def recording(self, part: Plain, name: str = "") -> Recording:
        """Return the recording of the visit that a part of the document is about.

        Raises
        ------
        NotKeptError
            If no recording of the examination has its file name.
        StoreError
            If it is not there or damaged.
        """
        said = part.get("provenance") or {}
        wanted, checksum = name or said.get("source", ""), said.get("sha256", "")
        found = [
            each
            for each in self._recordings()
            if (each.checksum == checksum if checksum else each.source == wanted)
        ]
        if not found:
            raise NotKeptError(f"the recording {wanted!r} of this examination is not kept")
        # a file may hold several: the one of the stated length
        duration_s = float(part.get("duration_s") or 0.0)
        found.sort(key=lambda each: abs(each.n_samples / each.sampling_rate_hz - duration_s))
        return self.plant.measurements.load(found[0])

    def _recordings(self) -> Iterator[KeptRecording]:
        for each in self.kept.inputs:
            if each.recording_id is not None and not each.earlier:
                yield self.plant.measurements.recording(each.recording_id)

    def sheets(self, *, earlier: bool) -> Iterator[KeptSheet]:
        """Yield the test sheets that were examined, or those that were compared with."""
        for each in self.kept.inputs:
            if each.test_sheet_id is not None and each.earlier is earlier:
                yield self.plant.measurements.sheet(each.test_sheet_id)


def running_pictures(source: Source) -> Iterator[Drawn]:
    """Yield the pictures of the running motor.

    Raises
    ------
    NotKeptError
        If there is nothing to make them from, with the reason.
    """
    part = source.document.running
    if part is None:
        raise NotKeptError(NO_RUNNING)
    begin_s, end_s = part.get("steady_from_s"), part.get("steady_to_s")
    if begin_s is None or end_s is None:
        raise NotKeptError(part.get("stopped") or NO_STRETCH)
    if part.get("stopped"):
        raise NotKeptError(str(part["stopped"]))
    recording = _with_stated_roles(source.recording(part), part)
    rate = recording.sampling_rate_hz
    cut = recording.section(round(begin_s * rate), round(end_s * rate))
    point = operating_point_in(part)
    nominal = source.motor.nameplate.rated_frequency_hz
    about_hz = nominal if isinstance(point, NotKnown) else point.supply_frequency_hz.value
    scene = running.RunningScene(
        frame=supply_frame(StatorSignals.from_recording(cut), about_hz),
        point=point,
        motor=source.motor,
        circuit=circuit_ensemble(source.motor),
        limits=load_limits(),
        readings=by_name(readings_in(part)),
        begins_s=begin_s,
    )
    yield running.supply_frame_picture(scene)
    yield beat.direct_picture(scene)
    yield beat.envelope_picture(scene)
    yield beat.envelope_spectrum_picture(scene)
    for name in running.HARMONICS:
        yield running.harmonic_picture(scene, name)
    yield whole_spectrum_picture(scene)


def _with_stated_roles(recording: Recording, part: Plain) -> Recording:
    """Return a recording with the roles that the examination used, and no others."""
    stated = {str(each["channel"]): Role(each["role"]) for each in part.get("roles") or []}
    return recording.with_roles(
        {channel.name: stated.get(channel.name, Role.OTHER) for channel in recording.channels}
    )


def start_pictures(source: Source) -> Iterator[Drawn]:
    """Yield the pictures of the start.

    Raises
    ------
    NotKeptError
        If there is nothing to make them from, with the reason.
    """
    part = source.document.start
    if part is None:
        raise NotKeptError(NO_START)
    if part.get("refused"):
        raise NotKeptError(str(part["refused"]))
    limits = load_limits()
    recording = source.recording({}, str(part.get("recording", "")))
    looked = look_at(source.motor, recording, Settings(limits=limits, roles_confirmed=True))
    recording = looked.proof.recording
    found = _start_at(looked.starts, float(part["switched_on_s"]), recording.sampling_rate_hz)
    if found is None:
        raise NotKeptError("this version of the program finds no start where it was")
    motor = source.motor
    signals = start_signals(recording, found, motor.nameplate.rated_frequency_hz)
    track = read_side_line_track(
        recording, found, motor, circuit_ensemble(motor), limits.start_track
    )
    scene = start.StartScene(
        signals=signals,
        switched_on_s=found.switched_on / recording.sampling_rate_hz,
        track=_as_kept(track, part),
        three_phase=isinstance(signals, NotKnown) or signals.currents_measured > 1,
    )
    yield start.start_picture(scene)
    yield start.track_picture(scene)


def _start_at(
    starts: Sequence[MotorStart], switched_on_s: float, rate_hz: float
) -> MotorStart | None:
    """Return the start that the document means."""
    near = [s for s in starts if abs(s.switched_on / rate_hz - switched_on_s) <= OTHER_START_S]
    return near[0] if near else None


def _as_kept(track: StartTrack, part: Plain) -> StartTrack:
    """Return a track with the reading that the document has."""
    kept = by_name(readings_in(part)).get(track.reading.name)
    return track if kept is None else replace(track, reading=kept)


def sheet_pictures(source: Source) -> Iterator[Drawn]:
    """Yield the pictures of the tests at rest.

    Raises
    ------
    NotKeptError
        If there is nothing to make them from, with the reason.
    """
    part = source.document.sheet
    kept = list(source.sheets(earlier=False))
    name = ((part or {}).get("provenance") or {}).get("source", "")
    chosen = [each for each in kept if each.source == name] or kept
    if part is None or not chosen:
        raise NotKeptError(NO_SHEET)
    sheet = load_sheet(source.plant, chosen[0])
    past = [load_sheet(source.plant, each) for each in source.sheets(earlier=True)]
    readings = readings_in(part)
    if sheet.positions:
        yield from _positions(source.motor, sheet, load_limits())
    if sheet.resistance is not None:
        yield resistance_picture(sheet, by_name(readings))
    yield from insulation_pictures(
        InsulationScene(
            sheet=sheet,
            earlier=past,
            readings=readings,
            limits=_insulation_limits(source.document),
        )
    )


def _positions(motor: Motor, sheet: TestSheet, limits: Limits) -> tuple[Drawn, ...]:
    return position_pictures(read_positions(sheet, motor, circuit_ensemble(motor), limits.position))


def _insulation_limits(document: KeptDocument) -> InsulationLimits:
    """Return the errors that were in force."""
    known = {each.name for each in fields(InsulationLimits)}
    stated = document.limits("insulation")
    return InsulationLimits(**{name: value for name, value in stated.items() if name in known})


def motor_pictures(motor: Motor) -> tuple[Drawn, ...]:
    """Return what open bars would show on a motor, from light to full load."""
    from cagewise.decision.expect import expect

    return expected_pictures(expect(motor))
