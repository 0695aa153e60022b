"""Use case: the built-in demo, recordings of an invented plant with known truth.

The truth stands beside the recordings in ``truth.json``; the examination never reads it.
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
from cagewise.workflows.assess import assess

FOLDER = "demo_data"


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoCase:
    """One recording of the demo and what is true of it."""

    file: Path
    motor: Path
    truth: Truth


def cases() -> tuple[DemoCase, ...]:
    """Return the recordings of the demo, in the order of its file."""
    folder = Path(str(resources.files(__package__).joinpath(FOLDER)))
    entries = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
    return tuple(_case(folder, entry) for entry in entries)


def _case(folder: Path, entry: dict[str, Any]) -> DemoCase:
    """Return one entry of the file."""
    return DemoCase(
        file=folder / entry["file"],
        motor=folder / entry["motor"],
        truth=Truth(
            name=entry["name"],
            where=entry["where"],
            story=entry["story"],
            true_state=entry["state"],
            expected_state=entry["expected"],
            open_bars=float(entry["open_bars"]),
        ),
    )


def find_case(name: str) -> DemoCase:
    """Return the recording of this name.

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
    """Yield every chosen recording with its examination, by the same way as any other."""
    for case in chosen:
        yield case, assess(case.motor, [case.file])
