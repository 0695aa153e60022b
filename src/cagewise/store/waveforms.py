"""Decoded recordings as Parquet, in a folder or wherever an fsspec URL points.

The layout is the one that ``cagewise`` reads anywhere (see docs/formats.md), so a waveform can be
taken out of the plant and examined. Here it is read back as exactly the recording that was kept:
counts and their scale, sample times, provenance.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from hashlib import sha256

from cagewise.errors import DamagedFileError, InputError, MissingFileError, RecordingError
from cagewise.measurement import Recording
from cagewise.store.durable import Unnamed, file_errors, settle
from cagewise.store.places import DECODE_AGAIN, place_at
from cagewise.store.records import Waveform, checksum_of
from cagewise.store.steps import Step, no_step

_DIGITS_OF_CONTENT = 16
"""Of the checksum of the file in its name: the same original may be decoded in several ways."""

_LONGEST_PART = 40
"""Letters of the name of a part that go into the name of the file."""


class Waveforms:
    """A place of Parquet files.

    Parameters
    ----------
    url
        Folder or fsspec URL (``s3://bucket/plant``, ``memory://x``).
    step
        Called between steps, for tests.
    """

    def __init__(self, url: str, step: Step = no_step) -> None:
        self.place = place_at(url, step)
        self._step = step

    def keep(self, recording: Recording, *, part: str = "") -> Waveform:
        """Keep a recording.

        Parameters
        ----------
        recording
            Its provenance names the checksum of the original.
        part
            Which recording of a file that holds several.

        Raises
        ------
        InputError
            If two channels have the same name.
        StoreError
            If it cannot be written.
        """
        waveform, unnamed = self.packed(recording, part=part)
        try:
            with file_errors(self.place.where(waveform.path)):
                settle(unnamed, step=self._step)
        finally:
            for file in unnamed:
                file.drop()
        self._step("waveform kept")
        return waveform

    def packed(
        self, recording: Recording, *, part: str = ""
    ) -> tuple[Waveform, tuple[Unnamed, ...]]:
        """Write a recording; it is kept when the file that is returned beside it was settled.

        Parameters
        ----------
        recording, part
            As for :meth:`keep`.

        Raises
        ------
        InputError, StoreError
            As :meth:`keep`.
        """
        content = encoded(recording)
        checksum = sha256(content).hexdigest()
        origin = recording.provenance.sha256 or checksum
        kind = re.sub(r"[^0-9A-Za-z]+", "_", part)[:_LONGEST_PART].strip("_")
        name = "-".join(filter(None, (origin, kind, checksum[:_DIGITS_OF_CONTENT])))
        waveform = Waveform(
            path=f"{origin[:2]}/{name}.parquet", checksum=checksum, size_bytes=len(content)
        )
        unnamed = () if self._is_whole(waveform) else self.place.begin(waveform.path, content)
        self._step("waveform packed")
        return waveform, unnamed

    def load(self, waveform: Waveform) -> Recording:
        """Return the recording exactly as it was kept.

        Raises
        ------
        MissingFileError, DamagedFileError
            If the file is not there, or not what was kept.
        """
        return decoded(self.content(waveform), self.place.where(waveform.path))

    def content(self, waveform: Waveform) -> bytes:
        """Return the bytes of a waveform, checked.

        Raises
        ------
        MissingFileError, DamagedFileError
            If the file is not there, or not what was kept.
        """
        content = self.place.read(waveform.path)
        if checksum_of(content) != waveform.checksum:
            raise DamagedFileError(
                "the bytes are not those that were kept (the checksum differs)",
                where=self.place.where(waveform.path),
                remedy=DECODE_AGAIN,
            )
        return content

    def _is_whole(self, waveform: Waveform) -> bool:
        """Return whether a waveform is there and what it should be."""
        try:
            self.content(waveform)
        except (MissingFileError, DamagedFileError):
            return False
        return True


def encoded(recording: Recording) -> memoryview:
    """Return a recording as the bytes of a Parquet file.

    Raises
    ------
    InputError
        If two channels have the same name: only one of them could be kept.
    """
    import pyarrow as pa

    from cagewise.readers.metadata import TIMES_NAME
    from cagewise.readers.parquet.writer import write

    names = Counter([channel.name for channel in recording.channels] + [TIMES_NAME])
    double = [name for name, count in names.items() if count > 1]
    if double:
        raise InputError(
            f"two channels have the name {double[0]!r}",
            where=recording.provenance.source,
            remedy="Give every channel its own name in the instrument, or with a sidecar.",
        )
    sink = pa.BufferOutputStream()
    write(recording, sink)
    return memoryview(sink.getvalue())


def decoded(content: bytes | memoryview, where: str) -> Recording:
    """Return the recording of the bytes of a Parquet file.

    Raises
    ------
    DamagedFileError
        If the bytes are not what :func:`encoded` makes.
    """
    import pyarrow as pa
    from pyarrow import parquet

    from cagewise.readers.format import ReadOptions
    from cagewise.readers.metadata import METADATA_NAME, origin_in, recording_from

    try:
        table = parquet.ParquetFile(pa.BufferReader(content)).read()
        text = table.schema.metadata[METADATA_NAME.encode()].decode("utf-8")
        arrays = {name: table.column(name).to_numpy() for name in table.column_names}
        origin = origin_in(text, where=where)
        recording = recording_from(
            arrays, text, provenance=origin, options=ReadOptions(), where=where
        )
    except (pa.ArrowException, KeyError, TypeError, RecordingError) as error:
        raise DamagedFileError(
            f"it is no waveform of a plant ({error})",
            where=where,
            remedy=DECODE_AGAIN,
        ) from error
    return replace(recording, provenance=origin)
