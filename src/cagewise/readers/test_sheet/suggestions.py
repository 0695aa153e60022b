"""Names of tables that are not known, with what they may have been meant to be."""

from __future__ import annotations

from difflib import get_close_matches

from cagewise.machine.crosscheck import Fault
from cagewise.readers.test_sheet.headings import quoted
from cagewise.readers.test_sheet.sheet_schema import TABLES


def unknown_table(name: str, where: str) -> Fault:
    """Return the fault of a table that is not known."""
    known = [table for table in TABLES if table != "truth"]
    near = [table for table in known if name and table.startswith(name)]
    near = near or get_close_matches(name, known, n=1)
    remedy = f"Did you mean [{near[0]}]?" if near else f"Known: {', '.join(known)}."
    return Fault(where, f"{quoted(name)} is not a known table", remedy)
