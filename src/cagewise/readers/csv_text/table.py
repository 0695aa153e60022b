"""The numbers of a text table, column by column."""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from cagewise.errors import RecordingError
from cagewise.readers.csv_text.layout import MISSING, Layout, is_number, to_utf8
from cagewise.readers.files import translated

if TYPE_CHECKING:
    import pyarrow as pa

_BLOCK_BYTES = 4 << 20
"""Bytes that one thread parses at a time."""

_MOST_TRAILING_LINES = 50
"""Lines after the numbers that may be a remark; more of another shape is another table."""

_BLANKS = re.compile(rb"[ \t]+")
_MARGINS = re.compile(rb"^[ \t]+|[ \t]+(?=\r?$)", re.MULTILINE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Columns of a text table, as long as each other."""

    columns: tuple[pa.ChunkedArray, ...]
    notes: tuple[str, ...]


def read_table(path: Path, layout: Layout) -> Table:
    """Return the columns of the table.

    Raises
    ------
    RecordingError
        If a line in the middle has another number of columns.
    """
    import pyarrow as pa

    misfits: list[int] = []
    with translated(path, "the table cannot be parsed", also=(pa.ArrowException,)):
        try:
            table = _parse(path, layout, None)
        except pa.ArrowInvalid:
            table = _parse(path, layout, misfits)
    notes = _judge_misfits(path, layout, misfits, table.num_rows)
    return Table(columns=tuple(table.columns), notes=notes)


def _parse(path: Path, layout: Layout, misfits: list[int] | None) -> pa.Table:
    """Return all columns.

    Rows of another width are an error, or, if ``misfits`` is a list, left out and their numbers
    collected (slower: the rows are taken one after the other).
    """
    from pyarrow import csv

    def leave_out(row: csv.InvalidRow) -> str:
        if misfits is not None:
            misfits.append(row.number)
        return "skip"

    careful = misfits is not None
    with _opened(path, layout) as stream:
        return csv.read_csv(
            stream,
            read_options=csv.ReadOptions(
                column_names=[str(k) for k in range(len(layout.names))],
                use_threads=not careful,
                block_size=_BLOCK_BYTES,
                encoding="latin-1" if careful else "utf8",
            ),
            parse_options=csv.ParseOptions(
                delimiter=layout.separator, invalid_row_handler=leave_out if careful else None
            ),
            convert_options=csv.ConvertOptions(
                decimal_point=layout.decimal_sign,
                null_values=list(MISSING),
                strings_can_be_null=True,
                check_utf8=False,
            ),
        )


def _opened(path: Path, layout: Layout) -> BinaryIO:
    """Return the bytes of the table from the first number on, blanks reduced to one separator."""
    if layout.encoding == "utf-16":
        return io.BytesIO(to_utf8(path.read_bytes())[layout.data_offset :])
    if layout.separator == " ":
        data = path.read_bytes()[layout.data_offset :]
        return io.BytesIO(_BLANKS.sub(b" ", _MARGINS.sub(b"", data)))
    stream = path.open("rb")
    stream.seek(layout.data_offset)
    return stream


def _judge_misfits(path: Path, layout: Layout, misfits: list[int], n_rows: int) -> tuple[str, ...]:
    """Return a note about lines after the numbers; raise if lines within them do not fit."""
    if not misfits:
        return ()
    total = n_rows + len(misfits)
    first = min(misfits)
    if len(misfits) > _MOST_TRAILING_LINES or first != total - len(misfits) + 1:
        raise RecordingError(
            f"line {layout.first_line + first} does not have {len(layout.names)} columns",
            where=str(path),
            remedy="Correct or remove the line; one table is one recording.",
        )
    return (f"{len(misfits)} line(s) after the numbers left out (remark, or cut short)",)


def numbers_of(
    column: pa.ChunkedArray, *, path: Path, layout: Layout, index: int
) -> NDArray[Any] | None:
    """Return a column as numbers, missing cells as NaN, or None if it is a column of text.

    A last cell that is cut short becomes NaN.

    Raises
    ------
    RecordingError
        If the column begins with numbers and goes on with something else.
    """
    import pyarrow as pa

    kind = column.type
    if pa.types.is_null(kind):
        return np.full(len(column), np.nan)
    if pa.types.is_string(kind) or pa.types.is_binary(kind):
        return _numbers_from_text(column, path=path, layout=layout, index=index)
    if not (pa.types.is_integer(kind) or pa.types.is_floating(kind) or pa.types.is_boolean(kind)):
        return None
    with translated(path, "the table cannot be converted", also=(pa.ArrowException,)):
        values: NDArray[Any] = column.to_numpy()
    if pa.types.is_boolean(kind):
        return values.astype(np.float64 if column.null_count else np.int8)
    return values


def _numbers_from_text(
    column: pa.ChunkedArray, *, path: Path, layout: Layout, index: int
) -> NDArray[Any] | None:
    """Return the numbers of a column that did not convert as a whole, or None if it is text."""
    import pyarrow as pa

    cells = [
        None if cell is None else cell.decode("latin-1")
        for cell in column.cast(pa.binary()).to_pylist()
    ]
    bad = [
        row
        for row, cell in enumerate(cells)
        if cell is not None and not is_number(cell.strip(), layout.decimal_sign)
    ]
    filled = sum(cell is not None for cell in cells)
    if not bad:
        bad = [len(cells)]
    elif len(bad) == filled or 0 in bad:
        return None
    if bad[0] < len(cells) - 1:
        raise RecordingError(
            f"column {layout.names[index]!r} holds {cells[bad[0]]!r} where numbers stand before",
            where=f"{path}, line {layout.first_line + bad[0] + 1}",
            remedy="Correct the line, or remove what is not a number.",
        )
    texts = [None if row in bad else cell for row, cell in enumerate(cells)]
    return np.array(
        [np.nan if t is None else float(t.replace(",", ".")) for t in texts], dtype=np.float64
    )
