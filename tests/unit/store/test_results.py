"""Results beside documents: a convenience that can be lost, damaged or of another version."""

from __future__ import annotations

import zlib
from pathlib import Path

import pytest

from cagewise.errors import StoreError
from cagewise.quantities import Estimate, NotKnown
from cagewise.store.results import Results

DOCUMENT = '{"state": "sound"}'
RESULT = Estimate(1.0, 0.5, 2.0)


@pytest.fixture
def results(tmp_path: Path) -> Results:
    kept = Results(tmp_path / "results")
    kept.keep(DOCUMENT, RESULT)
    return kept


def the_file(tmp_path: Path) -> Path:
    (path,) = (tmp_path / "results").rglob("*.z")
    return path


def test_a_result_is_found_by_its_document(results: Results) -> None:
    assert results.find(DOCUMENT, Estimate) == RESULT
    assert results.find(DOCUMENT + " ", Estimate) is None
    assert results.find(DOCUMENT, NotKnown) is None


@pytest.mark.parametrize("cut", [0, 1, 10, -1])
def test_a_damaged_one_is_none(results: Results, tmp_path: Path, cut: int) -> None:
    path = the_file(tmp_path)
    path.write_bytes(path.read_bytes()[:cut])
    assert results.find(DOCUMENT, Estimate) is None


def test_one_that_unpacks_to_too_much_is_none(
    results: Results, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("cagewise.store.results.LARGEST_BYTES", 1000)
    the_file(tmp_path).write_bytes(zlib.compress(b" " * 1001))
    assert results.find(DOCUMENT, Estimate) is None


def test_keeping_it_again_mends_it(results: Results, tmp_path: Path) -> None:
    the_file(tmp_path).write_bytes(b"")
    results.keep(DOCUMENT, RESULT)
    assert results.find(DOCUMENT, Estimate) == RESULT


def test_where_nothing_may_be_written_it_says_so(tmp_path: Path) -> None:
    (tmp_path / "results").write_text("in the way", encoding="utf-8")
    with pytest.raises(StoreError, match="cannot be written"):
        Results(tmp_path / "results").keep(DOCUMENT, RESULT)
