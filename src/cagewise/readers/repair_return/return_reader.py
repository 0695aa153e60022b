"""A filled-in return sheet to answers; nothing is guessed, and all faults are in one message."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from difflib import get_close_matches
from pathlib import Path

from cagewise.errors import SheetError
from cagewise.machine.crosscheck import Fault
from cagewise.measurement.repair_return import (
    BY_KEY,
    DAMAGES,
    FORMAT,
    LONGEST_ANSWER,
    MARKER,
    MOST_BARS,
    MOST_PHOTOGRAPHS,
    PLACES,
    Answer,
    AnswerKind,
    Question,
    RepairReturn,
    ReturnedBar,
    contradictions,
)
from cagewise.readers.repair_return.return_writer import BAR, PHOTOGRAPH
from cagewise.readers.test_sheet.cells import (
    DecimalSigns,
    date_in,
    decimal_signs,
    number_in,
    text_in,
    yes_no_in,
)
from cagewise.readers.test_sheet.files import bytes_of
from cagewise.readers.test_sheet.form import Cell, Raw, Unusable, is_blank, is_comment
from cagewise.readers.test_sheet.headings import plain, quoted
from cagewise.readers.test_sheet.sheet_csv import SEPARATORS, rows_in
from cagewise.readers.text import decode_text

ENDINGS = (".toml", ".csv", ".xlsx")
"""Endings of the three forms."""
ZIP_MARK = b"PK\x03\x04"
_HEAD = ("format", "motor", "case")


@dataclass(slots=True)
class _Written:
    """A sheet as it is written, before anybody asks what it means."""

    head: dict[str, Cell] = field(default_factory=dict)
    answers: list[tuple[str, Cell]] = field(default_factory=list)
    bars: list[tuple[int, tuple[Raw, Raw, Raw]]] = field(default_factory=list)
    photographs: list[Cell] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)


def read_repair_return(path: str | os.PathLike[str]) -> RepairReturn:
    """Return what a shop wrote into its sheet (docs/papers.md).

    Raises
    ------
    SheetError
        If anything in it cannot be used; all faults of the file are in one message.
    MissingExtraError
        If it is a workbook and the optional library for workbooks is not installed.
    """
    path = Path(path)
    where = path.name
    return _understood(_reader(path)(bytes_of(path), where), where)


def _reader(path: Path) -> Callable[[bytes, str], _Written]:
    """Return what reads a file, by its ending."""
    readers = {".toml": _from_toml, ".csv": _from_csv, ".xlsx": _from_xlsx}
    reader = readers.get(path.suffix.casefold())
    if reader is None:
        raise SheetError(
            "this is not a return sheet in a known form",
            where=str(path),
            remedy=f"Give it one of the endings {', '.join(ENDINGS)}.",
        )
    return reader


def _from_toml(content: bytes, where: str) -> _Written:
    """Return a sheet that is TOML."""
    try:
        said = tomllib.loads(content.decode("utf-8-sig"))
    except (ValueError, RecursionError) as error:
        raise SheetError(
            f"this is not TOML: {str(error)[:200]}",
            where=where,
            remedy='Write one "key = value" per line, text in quotes, decimals with a point.',
        ) from error
    head, answers, bars = (said.get(name) for name in ("repair_return", "answers", "bars"))
    if not isinstance(head, dict):
        raise _no_sheet(where)
    written = _Written()
    written.head = {key: Cell(_raw(head.get(key))) for key in _HEAD}
    written.photographs = [Cell(_raw(each)) for each in _listed(head.get("photographs"))]
    for name in set(said) - {"repair_return", "answers", "bars"}:
        written.faults.append(
            Fault(f"[{name[:60]}]", "is not a known table", "See docs/papers.md.")
        )
    if isinstance(answers, dict):
        written.answers = [(key, Cell(_raw(value))) for key, value in answers.items()]
    for number, each in enumerate(_listed(bars), start=1):
        one = each if isinstance(each, dict) else {"bar": each}
        cells = tuple(_raw(one.get(name)) for name in ("bar", "damage", "place"))
        written.bars.append((number, (cells[0], cells[1], cells[2])))
    return written


def _listed(value: object) -> list[object]:
    return value if isinstance(value, list) else [] if value in (None, "") else [value]


def _raw(value: object) -> Raw:
    """Return a value of TOML as the content of a cell."""
    if value is None or isinstance(value, (str, int, float, date)):
        return value
    return Unusable(f"holds {quoted(value)}, not a single value")


def _no_sheet(where: str) -> SheetError:
    return SheetError(
        "this is no return sheet of a repair shop",
        where=where,
        remedy="Fill in the file that came with the repair specification.",
    )


def _from_csv(content: bytes, where: str) -> _Written:
    """Return a sheet in columns of text."""
    text = decode_text(content)[0].removeprefix("\ufeff")
    first = text.lstrip().splitlines()[0] if text.strip() else ""
    separator = max(SEPARATORS, key=first.count)
    return _from_rows(rows_in(text, separator, where), where)


def _from_xlsx(content: bytes, where: str) -> _Written:
    """Return a sheet that is a workbook: its first worksheet."""
    from cagewise.readers.test_sheet.sheet_xlsx import sheets_of_xlsx

    if not content.startswith(ZIP_MARK):
        raise _no_sheet(where)
    sheets, faults = sheets_of_xlsx(content, where)
    written = _from_rows(sheets[0].rows if sheets else (), where)
    written.faults += faults
    return written


def _from_rows(rows: Iterable[tuple[int, Sequence[Raw]]], where: str) -> _Written:
    """Return a sheet in columns."""
    written, begun = _Written(), False
    for number, cells in rows:
        name = plain(cells[0]) if cells and isinstance(cells[0], str) else ""
        if not begun:
            if name.replace("_", " ") != MARKER:
                raise _no_sheet(where)
            begun, written.head["format"] = True, Cell(_at(cells, 1), number)
        elif name and not is_comment(cells[0]):
            _take(written, number, name, cells)
    if not begun:
        raise _no_sheet(where)
    return written


def _take(written: _Written, number: int, name: str, cells: Sequence[Raw]) -> None:
    """Take one row."""
    cell = Cell(_at(cells, 1), number)
    if name in _HEAD:
        written.head[name] = cell
    elif name == BAR:
        written.bars.append((number, (_at(cells, 1), _at(cells, 2), _at(cells, 3))))
    elif name == PHOTOGRAPH:
        written.photographs.append(cell)
    else:
        written.answers.append((name, cell))


def _at(cells: Sequence[Raw], place: int) -> Raw:
    """Return a cell of a row; nothing where it is a note or not there."""
    raw = cells[place] if place < len(cells) else None
    return None if is_comment(raw) else raw


def _understood(written: _Written, where: str) -> RepairReturn:
    """Return the answers, or raise with every fault."""
    faults = written.faults
    signs = decimal_signs(
        cell for key, cell in written.answers if _is_number(BY_KEY.get(plain(key)))
    )
    answers: dict[str, Answer] = {}
    for key, cell in written.answers:
        question = BY_KEY.get(plain(key))
        if question is None:
            faults.append(_unknown(key, cell))
        elif not cell.blank:
            value = _answer(question, cell, signs)
            if isinstance(value, Unusable):
                faults.append(Fault(_place(key, cell), value.what, value.remedy))
            elif question.key in answers:
                faults.append(Fault(_place(key, cell), "is answered twice", "Keep one."))
            else:
                answers[question.key] = value
    returned = RepairReturn(
        motor_tag=_tag(written, faults),
        case=_case(written, faults),
        answers=answers,
        bars=tuple(_bars(written, faults)),
        photographs=tuple(_photographs(written, faults)),
    )
    faults += [Fault(", ".join(each.keys), each.what) for each in contradictions(returned)]
    if faults:
        raise SheetError(_listing(faults), where=where, remedy="Nothing of it was kept.")
    return returned


def _is_number(question: Question | None) -> bool:
    return question is not None and question.kind in (AnswerKind.NUMBER, AnswerKind.WHOLE)


def _listing(faults: Sequence[Fault]) -> str:
    """Return all faults as one message."""
    if len(faults) == 1:
        return str(faults[0])
    lines = "".join(f"\n  - {fault}" for fault in faults)
    return f"{len(faults)} things cannot be used:{lines}"


def _place(key: str, cell: Cell) -> str:
    return f"row {cell.row}, {key}" if cell.row else key


def _unknown(key: str, cell: Cell) -> Fault:
    """Return the fault of a name that nobody asked for."""
    near = get_close_matches(plain(key), list(BY_KEY), n=1)
    remedy = f"Did you mean {near[0]}?" if near else "Names in the first column stay as they are."
    return Fault(_place(key[:60], cell), "is no question of this sheet", remedy)


def _answer(question: Question, cell: Cell, signs: DecimalSigns) -> Answer | Unusable:
    """Return an answer, or why it is none."""
    raw = cell.raw
    match question.kind:
        case AnswerKind.NUMBER | AnswerKind.WHOLE:
            return _number(question, raw, signs)
        case AnswerKind.CHOICE:
            return _choice(question.choices, raw)
        case AnswerKind.YES_NO:
            return yes_no_in(raw)
        case AnswerKind.DAY:
            return date_in(raw)
        case _:
            return _words(raw)


def _words(raw: Raw) -> str | Unusable:
    """Return a text."""
    said = text_in(str(raw) if isinstance(raw, float) else raw)
    if isinstance(said, str) and len(said) > LONGEST_ANSWER:
        return Unusable(f"is longer than {LONGEST_ANSWER} characters", "Shorten it.")
    return said


def _number(question: Question, raw: Raw, signs: DecimalSigns) -> Answer | Unusable:
    """Return a number inside what can be."""
    figure = number_in(raw, signs)
    if isinstance(figure, Unusable):
        return figure
    value = float(figure)
    if not question.low <= value <= question.high:
        return Unusable(
            f"is {value:g}, and lies between {question.low:g} and {question.high:g}",
            "Is it in the unit of its name, and in the right row?",
        )
    if question.kind is AnswerKind.NUMBER:
        return value
    return int(value) if value.is_integer() else Unusable(f"is {value:g}, no whole number")


def _choice(choices: Sequence[str], raw: Raw) -> str | Unusable:
    """Return one of the words."""
    if isinstance(raw, Unusable):
        return raw
    said = str(raw).strip().casefold()
    found = [choice for choice in choices if choice.casefold() == said]
    if found:
        return found[0]
    offered = ", ".join(choice for choice in choices if choice)
    return Unusable(f"holds {quoted(raw)}", f"Write one of: {offered}.")


def _tag(written: _Written, faults: list[Fault]) -> str:
    """Return the motor, after the version of the sheet was looked at."""
    version = written.head.get("format", Cell(None)).raw
    if str(version).strip() not in {str(n) for n in range(1, FORMAT + 1)}:
        what = f"is {quoted(version)}; this program reads {FORMAT} and older"
        faults.append(Fault("format", what, "Keep the number that the empty sheet had."))
    raw = written.head.get("motor", Cell(None)).raw
    if is_blank(raw) or isinstance(raw, Unusable):
        faults.append(Fault("motor", "is missing", "Write the tag of the motor."))
        return ""
    return str(raw).strip()


def _case(written: _Written, faults: list[Fault]) -> int | None:
    """Return the number of the case."""
    raw = written.head.get("case", Cell(None)).raw
    if is_blank(raw):
        return None
    text = str(raw).strip().removesuffix(".0")
    if text.isascii() and text.isdecimal() and len(text) <= len(str(10**9)):
        return int(text)
    faults.append(Fault("case", f"holds {quoted(raw)}, no number of a case"))
    return None


def _bars(written: _Written, faults: list[Fault]) -> Iterator[ReturnedBar]:
    """Yield the damaged bars."""
    question = Question(key=BAR, section=BY_KEY["open_bars"].section, kind=AnswerKind.WHOLE,
                        low=1, high=MOST_BARS)  # fmt: skip
    for number, (bar, damage, place) in written.bars:
        if all(is_blank(each) for each in (bar, damage, place)):
            continue
        values = (
            Unusable("is missing", "Write its number.")
            if is_blank(bar)
            else _number(question, bar, DecimalSigns()),
            "open" if is_blank(damage) else _choice(DAMAGES, damage),
            "" if is_blank(place) else _choice(PLACES, place),
        )
        wrong = [each for each in values if isinstance(each, Unusable)]
        faults += [Fault(f"{BAR}, row {number}", each.what, each.remedy) for each in wrong]
        if not wrong:
            yield ReturnedBar(bar=int(str(values[0])), damage=str(values[1]), place=str(values[2]))


def _photographs(written: _Written, faults: list[Fault]) -> Iterator[str]:
    """Yield names of files: plain names, so that nothing outside the folder is taken."""
    filled = [cell for cell in written.photographs if not cell.blank]
    if len(filled) > MOST_PHOTOGRAPHS:
        what = f"are {len(filled)}, more than {MOST_PHOTOGRAPHS}"
        faults.append(Fault(PHOTOGRAPH, what, "Put them into one archive."))
        return
    for cell in filled:
        name = str(cell.raw).strip()
        if name != Path(name).name or name in {".", ".."} or "\\" in name or "\0" in name:
            what = f"{quoted(name)} is no plain file name"
            faults.append(Fault(PHOTOGRAPH, what, "Put the file beside this sheet."))
        else:
            yield name
