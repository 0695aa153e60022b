"""Files into a plant with the examination that follows."""

from __future__ import annotations

from pathlib import Path

import pytest

from cagewise.errors import ChannelRoleError
from cagewise.workflows import plant_take_in
from cagewise.workflows.plant_import import Fate
from cagewise.workflows.plant_take_in import take_in
from support.demo_plants import kiln_plant, laid_out

SHEET = "whole-visit.sheet.toml"


def test_files_are_imported_and_examined_once(tmp_path: Path) -> None:
    plant, motor = kiln_plant(tmp_path)
    folder = laid_out(tmp_path / "in", (SHEET,))
    (folder / "notes.txt").write_text("no measurement")
    told: list[float] = []

    def tell(share: float | None, words: str) -> None:
        assert words
        told.append(-1.0 if share is None else share)

    with plant:
        first = take_in(plant, motor, [folder / "notes.txt", folder / SHEET], tell=tell)
        assert [each.fate for each in first.files] == [Fate.REFUSED, Fate.IMPORTED]
        assert not first.is_clean
        assert told == sorted(told)
        again = take_in(plant, motor, [folder / SHEET])
        assert [each.fate for each in again.files] == [Fate.KNOWN]
        assert again.is_clean
        [one], [other] = first.visits, again.visits
        assert one.kept is not None
        assert other.kept == one.kept


def test_what_the_user_has_to_state_first_is_no_failure_of_the_import(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def unsure(*_: object) -> None:
        raise ChannelRoleError("two channels could be IL1", remedy="Say which is which.")

    monkeypatch.setattr(plant_take_in, "assess_visit", unsure)
    plant, motor = kiln_plant(tmp_path)
    with plant:
        taken = take_in(plant, motor, [laid_out(tmp_path / "in", (SHEET,)) / SHEET])
    [visit] = taken.visits
    assert visit.kept is None
    assert visit.fault is not None
    assert not taken.is_clean
