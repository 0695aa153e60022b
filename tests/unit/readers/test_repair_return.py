"""A return sheet reads the same in all its forms; what cannot be is refused with words."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from cagewise.errors import SheetError
from cagewise.measurement.repair_return import (
    QUESTIONS,
    AnswerKind,
    RepairReturn,
    ReturnedBar,
    contradictions,
)
from cagewise.readers.repair_return import ENDINGS, read_repair_return, write_return_form
from support.returns import ANSWERS, BARS, empty, fill


@pytest.mark.parametrize("ending", ENDINGS)
def test_what_was_filled_in_reads_back(tmp_path: Path, ending: str) -> None:
    path = fill(tmp_path / f"sheet{ending}", ANSWERS, BARS, ["bars.jpg"])

    returned = read_repair_return(path)

    assert (returned.motor_tag, returned.case) == ("P-101", 1)
    assert set(returned.answers) == set(ANSWERS)
    assert returned.answers["rotor_bars"] == 58
    assert isinstance(returned.answers["rotor_bars"], int)
    assert returned.answers["arrival_ab_ohm"] == 0.0412
    assert returned.answers["repaired_on"] == date(2031, 3, 28)
    assert returned.answers["ring_cracked"] is False
    assert returned.bars == tuple(ReturnedBar(bar=b, damage=d, place=p) for b, d, p in BARS)
    assert returned.photographs == ("bars.jpg",)


@pytest.mark.parametrize("ending", ENDINGS)
def test_an_empty_sheet_says_nothing_and_is_the_same_whenever_it_is_made(
    tmp_path: Path, ending: str
) -> None:
    path = tmp_path / f"sheet{ending}"
    content = write_return_form(empty(), ending)
    path.write_bytes(content)

    returned = read_repair_return(path)

    assert (returned.answers, returned.bars, returned.photographs) == ({}, (), ())
    if ending != ".xlsx":  # an archive keeps the time of its packing
        assert write_return_form(empty(), ending) == content


@pytest.mark.parametrize("ending", ENDINGS)
@pytest.mark.parametrize("tag", ["=1+1", 'a"b\\c', "P-1;x", "Ü-1\u2028"])
def test_no_tag_breaks_out_of_the_form(tmp_path: Path, ending: str, tag: str) -> None:
    path = tmp_path / f"sheet{ending}"
    path.write_bytes(write_return_form(empty(tag), ending))

    assert read_repair_return(path).motor_tag == tag.strip()


@pytest.mark.parametrize("ending", ENDINGS)
@pytest.mark.parametrize(
    ("key", "said", "words"),
    [
        ("rotor_bars", "3", "between 6 and 240"),
        ("rotor_bars", "58.5", "no whole number"),
        ("stator_slots", "many", "not a number"),
        ("rotor_slots", "half", "open, closed"),
        ("arrival_ab_ohm", "41200", "between"),
        ("repaired_on", "28.03.2031 ?", "not a date"),
        ("ring_cracked", "maybe", "yes or no"),
    ],
)
def test_impossible_answers_are_refused_with_what_to_do(
    tmp_path: Path, ending: str, key: str, said: str, words: str
) -> None:
    path = fill(tmp_path / f"sheet{ending}", {**ANSWERS, key: said}, BARS)

    with pytest.raises(SheetError) as refused:
        read_repair_return(path)

    assert key in str(refused.value)
    assert words in str(refused.value)


def test_every_fault_of_a_sheet_is_in_one_message(tmp_path: Path) -> None:
    wrong = {**ANSWERS, "rotor_bars": "1", "stator_slots": "2", "rotor_slots": "x"}

    with pytest.raises(SheetError, match="3 things") as refused:
        read_repair_return(fill(tmp_path / "sheet.csv", wrong))

    assert all(key in str(refused.value) for key in ("rotor_bars", "stator_slots", "rotor_slots"))


def returned(*bars: int, **answers: object) -> RepairReturn:
    return RepairReturn(
        motor_tag="P", case=None, answers=answers,  # type: ignore[arg-type]  # of a test
        bars=tuple(ReturnedBar(bar=bar) for bar in bars),
    )  # fmt: skip


@pytest.mark.parametrize(
    "wrong",
    [
        returned(7, cage_found="sound"),
        returned(7),
        returned(59, cage_found="damaged", rotor_bars=58),
        returned(7, 7, cage_found="damaged"),
        returned(7, 8, cage_found="damaged", open_bars=1),
        returned(cage_found="damaged", open_bars=59, rotor_bars=58),
        returned(arrival_gap_min_mm=1.2, arrival_gap_max_mm=1.0),
        returned(received_on=date(2031, 3, 28), repaired_on=date(2031, 3, 10)),
        returned(coil_span_slots=72, stator_slots=72),
    ],
)
def test_answers_that_contradict_each_other_are_refused(wrong: RepairReturn) -> None:
    assert len(contradictions(wrong)) == 1


def test_answers_that_fit_are_not(tmp_path: Path) -> None:
    good = returned(7, 8, cage_found="damaged", open_bars=2, rotor_bars=58)

    assert contradictions(good) == ()
    assert contradictions(read_repair_return(fill(tmp_path / "s.csv", ANSWERS, BARS))) == ()


@pytest.mark.parametrize("name", ["../x.jpg", "a/b.jpg", "a\\b.jpg", ".."])
def test_a_photograph_is_a_plain_name(tmp_path: Path, name: str) -> None:
    with pytest.raises(SheetError, match="plain file name"):
        read_repair_return(fill(tmp_path / "sheet.csv", ANSWERS, photographs=[name]))


@pytest.mark.parametrize(
    "content", [b"", b"\0\0", b"rubbish", b"[sheet]\nformat=1\n", b"[repair_return]\nformat = 99\n"]
)
@pytest.mark.parametrize("ending", ENDINGS)
def test_what_is_no_return_sheet_is_refused(tmp_path: Path, ending: str, content: bytes) -> None:
    path = tmp_path / f"x{ending}"
    path.write_bytes(content)

    with pytest.raises(SheetError):
        read_repair_return(path)


def test_bounds_and_choices_are_stated_for_every_question() -> None:
    keys = [question.key for question in QUESTIONS]

    assert len(set(keys)) == len(keys)
    for question in QUESTIONS:
        if question.kind in (AnswerKind.NUMBER, AnswerKind.WHOLE):
            assert question.low < question.high, question.key
        assert bool(question.choices) == (question.kind is AnswerKind.CHOICE), question.key
