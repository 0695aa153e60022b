"""The published JSON schema of work orders, made from the documented classes.

``python -m cagewise.report.work_order_schema FOLDER`` writes it, and the tables of its fields in
``docs/exports.md``, below a checkout; a test refuses stale ones.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from cagewise.report.schema import field_table, tidy
from cagewise.report.work_order import SCHEMA_VERSION, WorkOrdersDocument

SCHEMA_PATH = "src/cagewise/report/work_orders.schema.json"
PAGE_PATH = "docs/exports.md"
BEGIN, END = "<!-- fields of work orders -->\n", "<!-- end of fields -->\n"
"""Between them the page holds the tables."""


def schema() -> dict[str, Any]:
    """Return the JSON schema (draft 2020-12) of the document."""
    from pydantic import TypeAdapter

    made = TypeAdapter(WorkOrdersDocument).json_schema(mode="serialization")
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$comment": f"Version {SCHEMA_VERSION} of the work orders of cagewise.",
        **tidy(made),
    }


def schema_text() -> str:
    """Return the schema as it is committed."""
    return json.dumps(schema(), indent=2, ensure_ascii=False) + "\n"


def tables() -> str:
    """Return the tables that document every field."""
    made = schema()
    lines = field_table("Document", made)
    for name, part in made["$defs"].items():
        lines += field_table(name, part)
    return "\n".join(lines).replace("## ", "### ")


def with_tables(page: str) -> str:
    """Return a page with the tables as they have to be."""
    before, rest = page.split(BEGIN)
    return f"{before}{BEGIN}\n{tables()}\n{END}{rest.split(END)[1]}"


if __name__ == "__main__":
    root = Path(sys.argv[1])
    (root / SCHEMA_PATH).write_text(schema_text(), encoding="utf-8")
    found = (root / PAGE_PATH).read_text(encoding="utf-8")
    (root / PAGE_PATH).write_text(with_tables(found), encoding="utf-8")
