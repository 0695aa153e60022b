"""Use case: a motor file and the recordings of one visit to an examination."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from cagewise.decision.examination import Examination, Settings
from cagewise.decision.limits import load_limits
from cagewise.errors import ChannelRoleError, RecordingError
from cagewise.machine.motor import Motor
from cagewise.measurement import Recording
from cagewise.quantities import Estimate

if TYPE_CHECKING:
    from cagewise.readers import ReadOptions

SIZE_WARNING = "[motor] rated_current_a"
"""Beginning of warnings of the motor file that can make right roles look wrong."""


OTHER_RECORDER = "roles of the motor file set aside: none of its channels is in this recording"
"""Step of the provenance: the motor file names the channels of another recorder."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AssessOptions:
    """What the user states beside the files."""

    roles: Mapping[str, str] = field(default_factory=dict)
    """Channel name to role; wins over the motor file."""
    sampling_rate_hz: float | None = None
    """Sampling rate of files that do not state one."""
    speed_rpm: float | None = None
    """Shaft speed from a tachometer or a strobe."""
    roles_confirmed: bool = False
    """The user was asked about the roles and insists."""
    select: tuple[str, ...] = ()
    """Variables or groups to take from files that hold several recordings."""
    accept_length_mismatch: bool = False
    """Read what is there although a file states another number of samples."""


def assess(
    motor_path: Path, recording_paths: Sequence[Path], options: AssessOptions | None = None
) -> Examination:
    """Examine the recordings of one visit.

    Raises
    ------
    MotorFileError
        If the motor file cannot be used.
    RecordingError
        If a recording cannot be used.
    ChannelRoleError
        If it is not certain which channel is which.
    MissingExtraError
        If a file format needs an optional part of the installation.
    """
    from cagewise.machine.motor_file import load_motor
    from cagewise.pipeline import examine_visit

    options = options or AssessOptions()
    motor = load_motor(motor_path)
    recordings = _recordings(motor, recording_paths, options)
    try:
        return examine_visit(motor, recordings, settings_of(options))
    except ChannelRoleError as error:
        doubts = [text for text in motor.warnings if text.startswith(SIZE_WARNING)]
        if not doubts:
            raise
        remedy = f"{error.remedy} But first check the motor file: {' '.join(doubts)}"
        raise ChannelRoleError(error.what, where=error.where, remedy=remedy) from error


def settings_of(options: AssessOptions) -> Settings:
    """Return the settings of an examination from what the user stated."""
    limits = load_limits()
    speed = None
    if options.speed_rpm is not None:
        error = limits.plan.speed_reading_error_rpm
        speed = Estimate(options.speed_rpm, options.speed_rpm - error, options.speed_rpm + error)
    return Settings(limits=limits, speed_rpm=speed, roles_confirmed=options.roles_confirmed)


def _recordings(motor: Motor, paths: Sequence[Path], options: AssessOptions) -> Iterator[Recording]:
    """Yield the recordings one at a time, so that only one is in memory."""
    from cagewise.readers import ReadOptions

    read_options = ReadOptions(
        sampling_rate_hz=options.sampling_rate_hz,
        select=options.select,
        accept_length_mismatch=options.accept_length_mismatch,
    )
    seen: dict[str, Path] = {}
    for path in paths:
        recording = _read_one(path, motor.sensors.roles, options.roles, read_options)
        checksum = recording.provenance.sha256
        if checksum in seen:
            raise RecordingError(
                f"this is the same recording as {seen[checksum]}",
                where=str(path),
                remedy="Give every recording once: a recording cannot confirm itself.",
            )
        seen[checksum] = path
        yield recording


def _read_one(
    path: Path,
    of_motor_file: Mapping[str, str],
    stated: Mapping[str, str],
    options: ReadOptions,
) -> Recording:
    """Read one recording; roles of another recorder's channels do not count."""
    from cagewise.readers import read_recording

    if not of_motor_file:
        return read_recording(path, roles=stated or None, options=options)
    try:
        return read_recording(path, roles={**of_motor_file, **stated}, options=options)
    except ChannelRoleError as error:
        other = read_recording(path, roles=stated or None, options=options)
        if {channel.name for channel in other.channels} & set(of_motor_file):
            remedy = f"{error.remedy} See [sensors] roles in the motor file."
            raise ChannelRoleError(error.what, where=error.where, remedy=remedy) from error
        return other.with_step(OTHER_RECORDER)
