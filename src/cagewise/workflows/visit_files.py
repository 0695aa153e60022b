"""The files of a visit: recordings and test sheets, each read once."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from cagewise.errors import ChannelRoleError, RecordingError, SheetError
from cagewise.machine.motor import Motor
from cagewise.measurement import Recording, TestSheet

if TYPE_CHECKING:
    from cagewise.readers import ReadOptions

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
    prevalence: float | None = None
    """How common cage defects are among such motors before anything is measured, 0.001 to 0.5;
    that of :class:`~cagewise.evidence.fusion.patterns.Prior` when left out."""
    roles_confirmed: bool = False
    """The user was asked about the roles and insists."""
    select: tuple[str, ...] = ()
    """Variables or groups to take from files that hold several recordings."""
    accept_length_mismatch: bool = False
    """Read what is there although a file states another number of samples."""
    earlier: tuple[Path, ...] = ()
    """Starts and test sheets of the same motor from earlier occasions, to compare with."""


class VisitReader:
    """Reads the files of one visit; a file that is given twice is refused."""

    def __init__(self, motor: Motor, options: AssessOptions) -> None:
        self._motor = motor
        self._options = options
        self._seen: dict[str, Path] = {}

    def recordings(self, paths: Sequence[Path]) -> Iterator[Recording]:
        """Yield the recordings among files one at a time, so that only one is in memory.

        Raises
        ------
        RecordingError, ChannelRoleError, MissingExtraError
            If a recording cannot be used, or was given before.
        """
        from cagewise.readers import ReadOptions

        options = ReadOptions(
            sampling_rate_hz=self._options.sampling_rate_hz,
            select=self._options.select,
            accept_length_mismatch=self._options.accept_length_mismatch,
        )
        for path in paths:
            if not _is_sheet(path):
                recording = read_one(path, self._motor.sensors.roles, self._options.roles, options)
                self._require_new(recording.provenance.sha256, path)
                yield recording

    def sheets(self, paths: Sequence[Path]) -> tuple[TestSheet, ...]:
        """Return the test sheets among files.

        Raises
        ------
        SheetError, RecordingError, MissingExtraError
            If a sheet cannot be used, is of another motor, or was given before.
        """
        from cagewise.readers.test_sheet import read_test_sheet

        sheets = []
        for path in filter(_is_sheet, paths):
            sheet = read_test_sheet(path)
            self._require_new(sheet.provenance.sha256, path)
            if _plain(sheet.motor_tag) != _plain(self._motor.tag):
                raise SheetError(
                    f"this sheet is of motor {sheet.motor_tag!r}, the motor file is of "
                    f"{self._motor.tag!r}",
                    where=str(path),
                    remedy="Give the sheet with its own motor file, or correct the tag.",
                )
            sheets.append(sheet)
        return tuple(sheets)

    def _require_new(self, checksum: str, path: Path) -> None:
        """Raise if the same bytes were read before."""
        if checksum and checksum in self._seen:
            raise RecordingError(
                f"this is the same file as {self._seen[checksum]}",
                where=str(path),
                remedy="Give every file once: a measurement cannot confirm itself.",
            )
        self._seen[checksum] = path


def _plain(tag: str) -> str:
    """Return a tag as it is compared."""
    return "".join(tag.split()).casefold()


def _is_sheet(path: Path) -> bool:
    """Return whether a file is a test sheet."""
    from cagewise.readers.test_sheet import is_test_sheet

    return is_test_sheet(path)


def read_one(
    path: Path,
    of_motor_file: Mapping[str, str],
    stated: Mapping[str, str],
    options: ReadOptions,
    checksum_of: Callable[[tuple[Path, ...]], str] | None = None,
) -> Recording:
    """Read one recording; roles of another recorder's channels do not count.

    Parameters
    ----------
    path
        The file.
    of_motor_file
        Channel name to role, as the motor file has them.
    stated
        The same as the user stated it for this file; wins.
    options
        What else the user states.
    checksum_of
        Of the files, as for :func:`~cagewise.readers.read_recording`.

    Raises
    ------
    RecordingError, ChannelRoleError, MissingExtraError
        If it cannot be used.
    """
    from cagewise.readers import read_recording

    read = partial(read_recording, path, options=options)
    if checksum_of is not None:
        read = partial(read, checksum_of=checksum_of)
    if not of_motor_file:
        return read(roles=stated or None)
    try:
        return read(roles={**of_motor_file, **stated})
    except ChannelRoleError as error:
        other = read(roles=stated or None)
        if {channel.name for channel in other.channels} & set(of_motor_file):
            remedy = f"{error.remedy} See [sensors] roles in the motor file."
            raise ChannelRoleError(error.what, where=error.where, remedy=remedy) from error
        return other.with_step(OTHER_RECORDER)
