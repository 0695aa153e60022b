"""The samples of a COMTRADE recording: ASCII, BINARY, BINARY32 and FLOAT32."""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from cagewise.errors import RecordingError
from cagewise.quantities import RealArray
from cagewise.readers.comtrade.config import Analog, Configuration
from cagewise.readers.comtrade.parts import Sections
from cagewise.readers.files import translated
from cagewise.readers.format import SHORT_REMEDY

if TYPE_CHECKING:
    import pyarrow as pa

STORED = {"BINARY": "<i2", "BINARY32": "<i4", "FLOAT32": "<f4"}
"""Stored type of one analogue value, little-endian."""

_BLOCK_BYTES = 1 << 18
"""Bytes that are taken apart at a time: they stay in the processor's cache."""

_NO_STAMP = 0xFFFFFFFF
"""Time stamp of a sample whose time is not known (binary data)."""

_COUNTER_RANGE = 2.0**32
"""Where the time stamps of binary data run over."""

_MISSING_ASCII = (99999.0, 999999.0)
"""Missing value in ASCII data: five nines (1999 on), six in six-digit columns (1991)."""

_END_OF_TEXT = "\x1a \t\r\n"


@dataclass(frozen=True, slots=True, kw_only=True)
class Samples:
    """What stands in the data file."""

    raw: tuple[NDArray[Any], ...]
    """Stored values per analogue channel, missing ones as NaN."""
    stamps: NDArray[Any] | None
    """Time stamps as stored, shape (n_samples,), or None where the file has none."""
    notes: tuple[str, ...]


def read_samples(
    config: Configuration, where: Sections, *, accept_length_mismatch: bool
) -> Samples:
    """Return the samples of all analogue channels.

    Raises
    ------
    RecordingError
        If the file holds another number of samples than the configuration states.
    """
    read = _read_ascii if config.data_type == "ASCII" else _read_binary
    raw, stamps, remainder = read(config, where)
    found = len(raw[0])
    problem = _length_problem(config, found, remainder)
    if problem and not accept_length_mismatch:
        raise RecordingError(
            problem,
            where=str(where.data),
            remedy=f"Copy both files again from the instrument, or {SHORT_REMEDY}",
        )
    keep = min(found, config.n_samples)
    notes = [f"{problem}; {keep} samples read"] if problem else []
    channels = []
    for values, analog in zip(raw, config.analogs, strict=True):
        cleaned, n_missing = _without_missing_codes(values[:keep], analog, config)
        channels.append(cleaned)
        if n_missing:
            notes.append(f"{n_missing} missing values in {analog.name!r}")
    return Samples(
        raw=tuple(channels),
        stamps=None if stamps is None else stamps[:keep],
        notes=tuple(notes),
    )


def _length_problem(config: Configuration, found: int, remainder: int) -> str:
    """Return what is wrong with the length of the data, or an empty string."""
    stated = config.n_samples
    if found < stated:
        return f"the configuration states {stated} samples, the data hold {found}"
    if found > stated:
        return f"the configuration states {stated} samples, the data hold more ({found})"
    if remainder and config.data_type != "ASCII":
        return f"{remainder} bytes are left over after the last sample"
    return ""


def _read_binary(
    config: Configuration, where: Sections
) -> tuple[tuple[NDArray[Any], ...], NDArray[Any] | None, int]:
    """Return stored values, stamps and left-over bytes of binary data.

    The size of the file, not the stated number of samples, decides how much is read.
    """
    kind = np.dtype(STORED[config.data_type])
    n_analog = len(config.analogs)
    words = -(-config.n_status // 16)
    row = np.dtype(
        [("number", "<u4"), ("stamp", "<u4"), ("analog", kind, (n_analog,))]
        + ([("status", "<u2", (words,))] if words else [])
    )
    with translated(where.data, "the data cannot be read"), where.data.open("rb") as stream:
        available = stream.seek(0, io.SEEK_END) - where.offset
        stream.seek(where.offset)
        if where.length is not None:
            available = min(available, where.length)
        n_rows, remainder = divmod(available, row.itemsize)
        raw, stamps = _take_apart(stream, row, n_rows)
        rest = stream.read(min(remainder, _BLOCK_BYTES)).strip(b"\x1a\r\n \x00")
    known = stamps if n_rows and not bool((stamps == _NO_STAMP).any()) else None
    return tuple(raw), known, len(rest)


def _take_apart(
    stream: BinaryIO, row: np.dtype[Any], n_rows: int
) -> tuple[NDArray[Any], NDArray[np.uint32]]:
    """Return values, shape (n_analog, n_rows), and stamps, shape (n_rows,)."""
    assert row.fields is not None  # noqa: S101 - made with fields just above
    n_analog = row.fields["analog"][0].shape[0]
    raw = np.empty((n_analog, n_rows), dtype=row.fields["analog"][0].base.newbyteorder("="))
    stamps = np.empty(n_rows, dtype=np.uint32)
    rows = np.empty(min(n_rows, max(1, _BLOCK_BYTES // row.itemsize)), dtype=row)
    for start in range(0, n_rows, max(rows.size, 1)):
        taken = rows[: n_rows - start]
        if stream.readinto(taken.view(np.uint8)) < taken.nbytes:  # type: ignore[attr-defined]
            raise EOFError("the file became shorter while it was read")
        stop = start + taken.size
        stamps[start:stop] = taken["stamp"]
        values = taken["analog"]
        for channel in range(n_analog):
            raw[channel, start:stop] = values[:, channel]
    return raw, stamps


def _read_ascii(
    config: Configuration, where: Sections
) -> tuple[tuple[NDArray[Any], ...], NDArray[Any] | None, int]:
    """Return stored values, stamps and the number of lines that do not fit, of ASCII data."""
    import pyarrow as pa

    misfits: list[str] = []
    remedy = "Copy both files again from the instrument."
    with translated(
        where.data, "the data cannot be read", remedy=remedy, also=(pa.ArrowException,)
    ):
        try:
            table = _parse_ascii(config, where, None)
        except pa.ArrowInvalid:
            table = _parse_ascii(config, where, misfits)
    if len(misfits) > 1 or (misfits and table.num_rows >= config.n_samples):
        raise RecordingError(
            f"{len(misfits)} line(s) have another number of values, such as {misfits[0][:60]!r}",
            where=str(where.data),
            remedy="Check that configuration and data belong together.",
        )
    columns = [_column_values(table.column(k), where, k) for k in range(table.num_columns)]
    stamps = columns[0]
    known = stamps if stamps.size and bool(np.isfinite(stamps).all()) else None
    return tuple(columns[1:]), known, 0


def _parse_ascii(config: Configuration, where: Sections, misfits: list[str] | None) -> pa.Table:
    """Return the columns of stamps and analogue values.

    Lines of another width are an error, or, if ``misfits`` is a list, left out and collected
    there unless they only mark the end of the text.
    """
    from pyarrow import csv

    def leave_out(row: csv.InvalidRow) -> str:
        if misfits is not None and row.text.strip(_END_OF_TEXT):
            misfits.append(row.text)
        return "skip"

    names = [str(k) for k in range(2 + len(config.analogs) + config.n_status)]
    careful = misfits is not None
    with where.data.open("rb") as stream:
        stream.seek(where.offset)
        return csv.read_csv(
            stream,
            read_options=csv.ReadOptions(
                column_names=names, encoding="latin-1" if careful else "utf8"
            ),
            parse_options=csv.ParseOptions(
                quote_char=False, invalid_row_handler=leave_out if careful else None
            ),
            convert_options=csv.ConvertOptions(
                include_columns=names[1 : 2 + len(config.analogs)],
                strings_can_be_null=True,
                check_utf8=False,
            ),
        )


def _column_values(column: pa.ChunkedArray, where: Sections, index: int) -> NDArray[Any]:
    """Return a column of ASCII data: whole numbers as integers, missing ones as NaN."""
    import pyarrow as pa

    if pa.types.is_null(column.type):
        return np.full(len(column), np.nan)
    if not (pa.types.is_integer(column.type) or pa.types.is_floating(column.type)):
        raise RecordingError(
            f"value {index} of the samples is not a number everywhere",
            where=str(where.data),
            remedy="Copy both files again from the instrument.",
        )
    return _as_counts(column.to_numpy())


def _as_counts(values: NDArray[Any]) -> NDArray[Any]:
    """Return whole numbers as 32-bit integers, anything else as it is."""
    if not values.size or not bool(np.isfinite(values).all()):
        return values
    if bool((np.abs(values) < 2**31).all()) and bool((values == np.rint(values)).all()):
        return values.astype(np.int32)
    return values


def _without_missing_codes(
    values: NDArray[Any], analog: Analog, config: Configuration
) -> tuple[NDArray[Any], int]:
    """Return the values with codes for "missing" turned into NaN, and how many there were.

    The 1991 revision marks missing binary values by -1, which cannot be told from a reading of
    -1: these are kept.
    """
    if not values.size:
        return values, 0
    if config.data_type == "ASCII":
        missing = _missing_ascii(values, analog)
    elif config.data_type != "FLOAT32" and config.revision == 1991:
        return values, 0
    else:
        code = (np.finfo if config.data_type == "FLOAT32" else np.iinfo)(values.dtype).min
        if values.min() > code:  # false if any value is NaN
            return values, 0
        missing = values == code
    if bool(missing.any()):
        values = values.astype(np.float32 if values.dtype == np.int16 else np.float64)
        values[missing] = np.nan
    absent = int(np.isnan(values).sum()) if values.dtype.kind == "f" else 0
    return values, absent


def _missing_ascii(values: NDArray[Any], analog: Analog) -> NDArray[np.bool_]:
    """Return where ASCII values are nines that the stated range does not contain."""
    missing = np.zeros(values.shape, dtype=bool)
    for code in _MISSING_ASCII:
        if analog.high is None or code >= analog.high:
            missing |= values == code
    return missing


def elapsed_seconds(stamps: NDArray[Any], stamp_unit_s: float) -> RealArray:
    """Return the time of every sample from the first, shape (n_samples,).

    The 32-bit counter of binary data runs over after 4295 s (4.3 s where it counts nanoseconds).
    A step back that is a usual step after running over is taken as that.
    """
    elapsed = stamps.astype(np.float64) - float(stamps[0])
    if stamps.dtype == np.uint32:
        steps = np.diff(stamps)  # modulo 2^32
        over = np.flatnonzero((stamps[1:] < stamps[:-1]) & (steps <= 2 * np.median(steps)))
        for sample in over:
            elapsed[sample + 1 :] += _COUNTER_RANGE
    return elapsed * stamp_unit_s
