"""Return sheets of repair shops, filled in by a test."""

from __future__ import annotations

import csv
import io
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path

from cagewise.decision.repair_specification import questions_for
from cagewise.decision.shop_checks import Subject, steps_for
from cagewise.measurement.repair_return import MARKER
from cagewise.readers.repair_return import AskedRow, EmptyReturn, write_return_form

Bars = Sequence[tuple[int, str, str]]
ANSWERS: Mapping[str, str] = {
    "shop": "Winding works",
    "filled_in_by": "M. Example",
    "received_on": "2031-03-10",
    "repaired_on": "2031-03-28",
    "repair_kind": "cage",
    "action": "two bars and their joints replaced",
    "cage_found": "damaged",
    "open_bars": "2",
    "rotor_bars": "58",
    "stator_slots": "72",
    "rotor_slots": "open",
    "bar_material": "brass",
    "arrival_ab_ohm": "0.0412",
    "ring_cracked": "no",
}
BARS: Bars = ((7, "open", "drive end"), (8, "open", "drive end"), (9, "cracked", ""))


def empty(tag: str = "P-101", case: int | None = 1) -> EmptyReturn:
    """Return an empty sheet with every question there is."""
    questions = questions_for(steps_for(frozenset(Subject), dissipation=True))
    return EmptyReturn(
        motor_tag=tag,
        case=case,
        notes=("a note",),
        rows=tuple(AskedRow(key=q.key, text=q.key, choices=q.choices) for q in questions),
        bars="Damaged bars",
        photographs="Photographs",
    )


def fill(
    path: Path,
    answers: Mapping[str, str],
    bars: Bars = (),
    photographs: Sequence[str] = (),
    sheet: EmptyReturn | None = None,
) -> Path:
    """Write an empty sheet as a file and fill it in as somebody would."""
    content = write_return_form(sheet or empty(), path.suffix)
    if path.suffix == ".toml":
        path.write_text(_toml(content.decode(), answers, bars, photographs), encoding="utf-8")
    elif path.suffix == ".csv":
        _csv(path, content, answers, bars, photographs)
    else:
        _xlsx(path, content, answers, bars, photographs)
    return path


def _toml(text: str, answers: Mapping[str, str], bars: Bars, photographs: Sequence[str]) -> str:
    lines = []
    for line in text.split("\n[[bars]]", maxsplit=1)[0].split("\n"):
        key = line.partition(" = ")[0]
        if key in answers:
            lines.append(f'{key} = "{answers[key]}"')
        elif key == "photographs":
            lines.append(f"photographs = {list(photographs)!r}")
        else:
            lines.append(line)
    for bar, damage, place in bars:
        lines += ["[[bars]]", f"bar = {bar}", f'damage = "{damage}"', f'place = "{place}"']
    filled = "\n".join(lines) + "\n"
    tomllib.loads(filled)
    return filled


def _csv(
    path: Path,
    content: bytes,
    answers: Mapping[str, str],
    bars: Bars,
    photographs: Sequence[str],
) -> None:
    left, pictures, written = list(bars), list(photographs), io.StringIO()
    rows = csv.reader(io.StringIO(content.decode("utf-8-sig")), delimiter=";")
    out = csv.writer(written, delimiter=";", lineterminator="\n")
    for row in rows:
        if row and row[0] in answers:
            row[1] = answers[row[0]]
        elif row and row[0] == "bar" and left:
            row = ["bar", *map(str, left.pop(0))]  # noqa: PLW2901 - as filled in
        elif row and row[0] == "photograph" and pictures:
            row[1] = pictures.pop(0)
        out.writerow(row)
    path.write_bytes(written.getvalue().encode("utf-8-sig"))


def _xlsx(
    path: Path,
    content: bytes,
    answers: Mapping[str, str],
    bars: Bars,
    photographs: Sequence[str],
) -> None:
    from openpyxl import load_workbook

    book = load_workbook(io.BytesIO(content))
    sheet = book.worksheets[0]
    assert sheet.cell(1, 1).value == MARKER
    left, pictures = list(bars), list(photographs)
    for number in range(1, sheet.max_row + 1):
        key = str(sheet.cell(number, 1).value or "")
        if key in answers:
            said = answers[key]
            sheet.cell(number, 2).value = float(said) if _is_number(said) else said
        elif key == "bar" and left:
            bar, damage, place = left.pop(0)
            sheet.cell(number, 2).value = bar
            sheet.cell(number, 3).value = damage
            sheet.cell(number, 4).value = place
        elif key == "photograph" and pictures:
            sheet.cell(number, 2).value = pictures.pop(0)
    book.save(path)


def _is_number(text: str) -> bool:
    return text.replace(".", "", 1).isdecimal()
