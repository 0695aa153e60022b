"""MAT file to recording."""

from __future__ import annotations

from pathlib import Path

from cagewise.measurement import Provenance, Recording
from cagewise.readers.files import read_head
from cagewise.readers.format import ReadOptions
from cagewise.readers.mat.kinds import Kind, kind_of
from cagewise.readers.vectors import assemble


def read(path: Path, options: ReadOptions) -> Recording:
    """Read a MAT file: the largest set of equally long vectors is the recording."""
    if kind_of(path, read_head(path)) is Kind.HDF5:
        from cagewise.readers.mat.hdf5 import recording_of

        return recording_of(path, options)
    from cagewise.readers.mat.classic import content_of

    parts = assemble(content_of(path), options, path)
    return Recording(
        channels=parts.channels,
        sampling_rate_hz=parts.timing.sampling_rate_hz,
        sample_times_s=parts.timing.sample_times_s,
        provenance=Provenance(source=path.name, format_name="mat", notes=parts.notes),
    )
