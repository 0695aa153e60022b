"""Work orders as JSON and as comma-separated values."""

from __future__ import annotations

import json
from dataclasses import asdict, fields

from cagewise.report.spreadsheet_text import Cell, csv_row, readable
from cagewise.report.work_order import WorkOrder, WorkOrdersDocument

COLUMNS = tuple(each.name for each in fields(WorkOrder))
"""Of the rows, in their order: the fields of an order."""


def to_json(document: WorkOrdersDocument) -> str:
    """Return the document as JSON text with a final newline; every text as it was written."""
    plain = asdict(document)
    text = json.dumps(plain, indent=2, ensure_ascii=False, allow_nan=False)
    return text.encode("utf-8", "replace").decode("utf-8") + "\n"


def to_csv(document: WorkOrdersDocument) -> str:
    """Return the orders as rows below their heads: RFC 4180, and nothing a spreadsheet computes."""
    rows = ([_cell(order, name) for name in COLUMNS] for order in document.work_orders)
    return csv_row(COLUMNS) + "".join(map(csv_row, rows))


def _cell(order: WorkOrder, name: str) -> Cell:
    """Return what stands in a column."""
    value = getattr(order, name)
    if isinstance(value, tuple):
        return " ".join(value)
    return readable(value) if isinstance(value, str) else value
