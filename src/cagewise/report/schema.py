"""The published JSON schema and its page, made from the documented classes of the document.

``python -m cagewise.report.schema FOLDER`` writes both below a checkout; a test refuses stale ones.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from cagewise.report.document import SCHEMA_VERSION, ExaminationDocument

SCHEMA_PATH = "src/cagewise/report/examination.schema.json"
PAGE_PATH = "docs/json.md"


def schema() -> dict[str, Any]:
    """Return the JSON schema (draft 2020-12) of the document."""
    from pydantic import TypeAdapter

    made = TypeAdapter(ExaminationDocument).json_schema(mode="serialization")
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$comment": f"Version {SCHEMA_VERSION} of the examination document of cagewise.",
        **tidy(made),
    }


def schema_text() -> str:
    """Return the schema as it is committed."""
    return json.dumps(schema(), indent=2, ensure_ascii=False) + "\n"


def page_text() -> str:
    """Return the page that documents every field."""
    made = schema()
    lines = [_HEAD.format(version=SCHEMA_VERSION), *field_table("Top level", made)]
    for name, part in made["$defs"].items():
        lines += field_table(name, part)
    return "\n".join(lines).rstrip() + "\n"


def field_table(name: str, part: dict[str, Any]) -> list[str]:
    """Return the table of one part."""
    rows = [
        f"| `{key}` | {_type(value)} | {value['description']} |"
        for key, value in part["properties"].items()
    ]
    text = part.get("description", "")
    return [f"## {name}", "", text, "", "| field | type | meaning |", "|---|---|---|", *rows, ""]


def _type(value: dict[str, Any]) -> str:
    """Return the type of a field in words."""
    if "$ref" in value:
        name = value["$ref"].rsplit("/", 1)[-1]
        return f"[{name}](#{name.lower()})"
    if "anyOf" in value:
        return " or ".join(_type(option) for option in value["anyOf"])
    if "enum" in value:
        return ", ".join(f"`{option}`" for option in value["enum"])
    if value.get("type") == "array":
        if "prefixItems" in value:
            return "[" + ", ".join(_type(item) for item in value["prefixItems"]) + "]"
        return f"list of {_type(value['items'])}"
    return str(value.get("type", "object"))


def tidy(value: Any) -> Any:  # noqa: ANN401  # a JSON value is whatever it is
    """Return a schema without made titles and with the names as they are written."""
    if isinstance(value, dict):
        made = {k: tidy(v) for k, v in value.items() if k != "title" or isinstance(v, dict)}
        if "properties" in made:
            made["properties"] = {k.rstrip("_"): v for k, v in made["properties"].items()}
            made["required"] = [k.rstrip("_") for k in made["required"]]
            made["additionalProperties"] = False
        return made
    return [tidy(item) for item in value] if isinstance(value, list) else value


_HEAD = """\
# JSON output

Version {version}. `cagewise assess MOTOR FILES... --json OUT` writes this document. The schema is
[`examination.schema.json`](../src/cagewise/report/examination.schema.json) (draft 2020-12) and
ships with the package. This page is made from the classes that make the document
(`python -m cagewise.report.schema .`).

Units are in the names of the fields. Intervals are 95 %. Numbers that do not exist are `null` and
have their reason beside them; `NaN` and infinities never occur. The same input gives the same
bytes. Damage is counted in open bars: how many adjacent fully open bars would produce a reading on
this motor.
"""

if __name__ == "__main__":
    root = Path(sys.argv[1])
    (root / SCHEMA_PATH).write_text(schema_text(), encoding="utf-8")
    (root / PAGE_PATH).write_text(page_text(), encoding="utf-8")
