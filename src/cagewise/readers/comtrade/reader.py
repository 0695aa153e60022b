"""COMTRADE files to a recording."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from cagewise.measurement import Channel, Provenance, Recording
from cagewise.readers.comtrade.config import Analog, Configuration, parse_configuration
from cagewise.readers.comtrade.data import Samples, read_samples
from cagewise.readers.comtrade.parts import Sections, locate, sections
from cagewise.readers.comtrade.timing import timing_of
from cagewise.readers.format import ReadOptions
from cagewise.readers.timing import Timing
from cagewise.readers.units import unique_names


def read(path: Path, options: ReadOptions) -> Recording:
    """Read a COMTRADE recording given any of its files."""
    parts = locate(path)
    where = sections(parts)
    config = parse_configuration(where.config, str(parts.config))
    samples = read_samples(config, where, accept_length_mismatch=options.accept_length_mismatch)
    if options.sampling_rate_hz is not None:
        said = ", ".join(f"{segment.rate_hz:g}" for segment in config.segments)
        note = f"sampling rate as stated, not as in the configuration ({said} Hz)"
        timing = Timing(sampling_rate_hz=options.sampling_rate_hz, notes=(note,))
    else:
        timing = timing_of(config, samples.stamps, samples.raw[0].size, str(parts.config))
    notes = (*config.notes, *_notes(config, where), *samples.notes, *timing.notes)
    return Recording(
        channels=_channels(config, samples),
        sampling_rate_hz=timing.sampling_rate_hz,
        sample_times_s=timing.sample_times_s,
        start_time=config.start_time,
        nominal_frequency_hz=config.line_frequency_hz,
        provenance=Provenance(source=parts.config.name, format_name="comtrade", notes=notes),
    )


def _channels(config: Configuration, samples: Samples) -> tuple[Channel, ...]:
    """Return the analogue channels: stored values with the file's scaling."""
    names = unique_names([analog.name for analog in config.analogs], what="analog")
    channels = []
    for name, analog, raw in zip(names, config.analogs, samples.raw, strict=True):
        own = config.data_type == "FLOAT32" and _describes_record(analog, raw)
        channels.append(
            Channel(
                name=name,
                raw=raw,
                unit=analog.unit,
                scale=analog.a,
                offset=analog.b,
                range_low=None if own else analog.low,
                range_high=None if own else analog.high,
            )
        )
    return tuple(channels)


def _describes_record(analog: Analog, raw: NDArray[Any]) -> bool:
    """Return whether stated limits are this record's own extreme and not the instrument's range.

    Writers of FLOAT32 fill the limits with what occurs; taken as a range, the largest sample of
    every record would count as clipped.
    """
    if analog.low is None or analog.high is None or not raw.size:
        return False
    reach = max(abs(float(np.nanmin(raw))), abs(float(np.nanmax(raw))))
    return reach >= max(abs(analog.low), abs(analog.high)) * (1.0 - 1e-6)


def _notes(config: Configuration, where: Sections) -> list[str]:
    """Return what a reader of the recording should know about the configuration."""
    notes = [f"COMTRADE {config.revision}, {config.data_type}"]
    if where.data_type and where.data_type != config.data_type:
        notes.append(f"the data section calls itself {where.data_type}")
    if config.n_status:
        notes.append(f"{config.n_status} status channels left out")
    secondary = [analog for analog in config.analogs if analog.secondary and analog.ratio != 1.0]
    if secondary:
        notes.append(
            f"secondary values, primary over secondary: {_listed(secondary, 'ratio')} "
            "(state it as `scale` in the sidecar for primary values)"
        )
    skewed = [analog for analog in config.analogs if analog.skew_us]
    if skewed:
        notes.append(
            f"channels sampled later than stated, in microseconds: {_listed(skewed, 'skew_us')} "
            "(not corrected)"
        )
    return notes


def _listed(analogs: list[Analog], field: str) -> str:
    """Return "IL1 100, IL2 100" for a field of channels, shortened after six."""
    shown = ", ".join(f"{analog.name} {getattr(analog, field):g}" for analog in analogs[:6])
    return shown + (f" and {len(analogs) - 6} more" if len(analogs) > 6 else "")
