"""Use case: the built-in demo, measurements in an invented plant with known truth.

The truth stands beside the files in ``truth.json`` (single recordings) and ``visits.json`` (whole
visits: running, start, test sheet, and what there is of earlier ones); the examination never reads
it.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Any

from cagewise.decision.examination import Examination
from cagewise.errors import UsageError
from cagewise.report.demo_text import Truth
from cagewise.workflows.assess import AssessOptions, assess

FOLDER = "demo_data"

TRUTHS = ("truth.json", "visits.json")
"""Files that list what there is and what is true of it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoCase:
    """One visit of the demo and what is true of it."""

    files: tuple[Path, ...]
    """Recordings and test sheets of the visit, the running motor first."""
    motor: Path
    truth: Truth
    earlier: tuple[Path, ...] = ()
    """Recordings and test sheets of earlier visits."""

    @property
    def file(self) -> Path:
        """Recording of the running motor."""
        return self.files[0]


def cases() -> tuple[DemoCase, ...]:
    """Return the visits of the demo, in the order of its files."""
    folder = Path(str(resources.files(__package__).joinpath(FOLDER)))
    return tuple(
        _case(folder, entry)
        for name in TRUTHS
        for entry in json.loads((folder / name).read_text(encoding="utf-8"))
    )


def _case(folder: Path, entry: dict[str, Any]) -> DemoCase:
    """Return one entry of the file."""
    return DemoCase(
        files=tuple(folder / name for name in entry.get("files", [entry.get("file")])),
        earlier=tuple(folder / name for name in entry.get("earlier", [])),
        motor=folder / entry["motor"],
        truth=Truth(
            name=entry["name"],
            where=entry["where"],
            story=entry["story"],
            true_state=entry["state"],
            expected_state=entry["expected"],
            open_bars=float(entry["open_bars"]),
            damage=entry.get("damage", ""),
        ),
    )


def find_case(name: str) -> DemoCase:
    """Return the visit of this name.

    Raises
    ------
    UsageError
        If there is none.
    """
    known = cases()
    found = next((case for case in known if case.truth.name == name), None)
    if found is None:
        raise UsageError(
            f"the demo has no recording named {name!r}",
            remedy=f"It has: {', '.join(case.truth.name for case in known)}.",
        )
    return found


def run(chosen: tuple[DemoCase, ...]) -> Iterator[tuple[DemoCase, Examination]]:
    """Yield every chosen visit with its examination, by the same way as any other."""
    for case in chosen:
        yield case, assess(case.motor, case.files, AssessOptions(earlier=case.earlier))
