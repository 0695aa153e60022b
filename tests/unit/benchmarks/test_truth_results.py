"""Stored results of the study: little room, nothing lost that a table needs, a page that fits."""

from __future__ import annotations

import json
import lzma
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import pytest

from truth import table
from truth.packed import DIGITS, MOST_BYTES, STORED, examined_on, pack, packed, results
from truth.reliability import bins, figure, told
from truth.stored import FIRST_UNSEEN, cases
from truth.targets import TARGETS

ROWS = results([STORED])


def kept_as_written(row: dict[str, Any]) -> dict[str, Any]:
    """Return a stored row as run.py writes it, with what packing leaves out and more digits."""
    reading = {"reason": "", "value": None, "method": None, "details": {"x": 1.234567}}
    sources = [
        {
            "stopped": "",
            "quality": ["clipping"],
            **source,
            "readings": [{**reading, **one} for one in source["readings"]],
        }
        for source in row["sources"]
    ]
    said = None if row["said"] is None else {**row["said"], "posterior": None, "methods": 2}
    return {**row, "sources": sources, "said": said, "seconds": {"simulation": 3.0}}


def test_packing_keeps_everything_that_the_rows_hold(tmp_path: Path) -> None:
    rows = ROWS[:60]
    path, plain = tmp_path / "packed.xz", tmp_path / "plain.jsonl"
    made = [kept_as_written(row) for row in rows]
    plain.write_text("".join(f"{json.dumps(row)}\n" for row in (*made, made[0])) + '{"cut')
    pack(path, [*reversed(made), made[0]])

    again = results([path])
    assert again == results([plain])
    for row, before in zip(again, rows, strict=True):
        assert {**row, "why": ""} == {**before, "why": ""}
    assert results([path, plain]) == again


def test_numbers_are_kept_to_a_few_digits() -> None:
    row = kept_as_written(next(r for r in ROWS if r["said"] and r["truth"]))
    row["truth"] = {**row["truth"], "load_fraction": 0.123456}
    assert packed(row)[5][0] == pytest.approx(0.123456, rel=0.5 * 10 ** (1 - DIGITS))
    assert packed(row)[5][0] != 0.123456


def test_results_of_another_design_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "other.xz"
    path.write_bytes(lzma.compress(b'{"design": 0, "digits": 4, "date": "2026-01-01"}\n'))
    with pytest.raises(ValueError, match="other scenes"):
        results([path])


def test_the_stored_results_are_small_and_of_committed_sources() -> None:
    assert STORED.stat().st_size < MOST_BYTES
    assert not any(row["version"].endswith("-dirty") for row in ROWS)
    assert len({(row["case"]["number"], row["case"]["channels"]) for row in ROWS}) == len(ROWS)


@pytest.mark.slow
def test_every_number_on_the_page_is_made_from_the_stored_results_and_the_shipped_fit() -> None:
    """Fails when results, fit or tables changed and ``table.py --write`` was not run after."""
    page = table.PAGE.read_text(encoding="utf-8")
    tables = "\n".join(table.document(ROWS, FIRST_UNSEEN, examined_on([STORED]))) + "\n"
    assert table.written(page, tables) == page
    assert all(f"| {target.name} |" in page for target in TARGETS)


def test_the_figure_is_a_picture_of_the_bins() -> None:
    of = told(cases(ROWS)[:200])
    drawn = ET.fromstring(figure(of, "some visits"))  # noqa: S314  # our own text
    assert len(drawn.findall("{*}circle")) == len(list(bins(of)))
    assert sum(b.defects.cases for b in bins(of)) == len(of)


def test_a_visit_is_also_judged_by_each_part_of_its_sources() -> None:
    visits = [row for row in ROWS if len({s["kind"] for s in row["sources"]}) == 3]
    assert visits
    for row in visits:
        assert set(row["subsets"]) == {
            *("running", "start", "sheet", "running start", "running sheet", "start sheet")
        }
        alone = [s["alone"] for s in row["sources"] if s["kind"] == "running"]
        if len(alone) == 1:  # a start may end in a stretch that is read as running, too
            assert row["subsets"]["running"] == alone[0]


def test_a_scene_that_could_not_be_simulated_is_kept_with_its_error() -> None:
    row = kept_as_written(ROWS[0])
    failed = {**row, "truth": None, "said": None, "sources": [], "error": "ValueError: no such"}
    assert packed(failed)[3] == "ValueError: no such"
    assert packed(failed)[-2:] == [[], {}]
