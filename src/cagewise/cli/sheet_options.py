"""The options of the command "sheet"."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter


@Parameter(name="*")
@dataclass(frozen=True, slots=True, kw_only=True)
class SheetOptions:
    """Which sheet is written or read."""

    out: Annotated[Path | None, Parameter(alias="-o")] = None
    """Sheet to write; its ending says the form: .xlsx, .csv or .toml."""
    check: Path | None = None
    """Read a sheet back and print what was understood."""
    frequency: list[float] = field(default_factory=list)
    """Test frequency of a position table in Hz; those of the plan if left out. Repeatable."""
    decimal_comma: bool = False
    """Write decimal commas, for spreadsheets that expect them (.csv only)."""
    waveforms_anywhere: bool = False
    """The file of waveforms that a sheet names may stand outside the folder of the sheet."""
