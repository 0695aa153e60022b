"""The case report: what page one says of every kind of examination, and how it is kept honest."""

from __future__ import annotations

import re
import subprocess
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import fields, is_dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from shutil import which

import pytest

from cagewise.cli.status import ExitStatus
from cagewise.decision.examination import Examination
from cagewise.decision.verdict import StateGround
from cagewise.evidence.explanations import Cause
from cagewise.evidence.findings import BlindSpot, Support
from cagewise.history.limits import trend_limits
from cagewise.history.missing import RepairKind
from cagewise.indicators.cage.catalogue import HEADS
from cagewise.indicators.reading import IndependenceClass
from cagewise.machine.motor import Criticality
from cagewise.quantities import NotKnown
from cagewise.report.json_output import to_json
from cagewise.report.language import speaking
from cagewise.report.papers import case_appendix_wording, case_readings_wording, case_report_wording
from cagewise.report.papers.case_material import CaseLook, CaseMaterial, TrendMaterial
from cagewise.report.papers.case_report import case_report
from cagewise.report.papers.page import to_page
from cagewise.report.papers.paper import (
    Block,
    Box,
    Cards,
    Drawing,
    Heading,
    Paper,
    PaperSize,
    Paragraph,
    Shape,
    Signatures,
    Table,
    Tone,
    Verdict,
)
from cagewise.report.papers.pdf import to_pdf
from cagewise.store import BarDamage, Decision, Found, FoundBar, Outcome, Plant
from cagewise.workflows.assess import assess
from cagewise.workflows.paper_case import (
    PaperWishes,
    case_paper,
    file_name,
    report_of_result,
)
from cagewise.workflows.plant_cases import Entry, add_event, open_case, repair_of, story
from cagewise.workflows.plant_trend_page import told_trend
from support import examinations as made_up
from support.commands import run, write_motor
from support.courses import DAMP
from support.kept_histories import LAST, add_examination, add_growing, add_motor

DAY = date(2026, 11, 3)
PRICED = Criticality(level="high", false_pull_cost=30_000.0, miss_cost=600_000.0)
WINDING_SHEET = """\
[sheet]
format = 1
motor = "P-07"
measured_on = 2031-05-17
measured_at = "motor terminals"

[conditions]
winding_temperature_degc = 24.5

[winding_resistance]
ab_resistance_milliohm = 41.2
bc_resistance_milliohm = 44.9
ca_resistance_milliohm = 41.25
"""
HOSTILE = '#eval("1") \\ */ </script><b>&amp; {tag} $x$ \u202e\x07 `' + "W" * 150


def examined(readings: Sequence[object], **changes: object) -> Examination:
    of = made_up.motor(**{"criticality": PRICED, **changes})
    return made_up.examination(made_up.record(readings), of=of)  # type: ignore[arg-type]


def material(made: Examination, **more: object) -> CaseMaterial:
    return CaseMaterial(examination=made, day=DAY, measured_on=DAY, **more)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def defective() -> Paper:
    return case_report(material(examined(made_up.damaged())))


@pytest.fixture(scope="module")
def winding(tmp_path_factory: pytest.TempPathFactory) -> Examination:
    """An examination of a sheet with winding resistances alone, one pair off."""
    folder = tmp_path_factory.mktemp("winding")
    (folder / "sheet.toml").write_text(WINDING_SHEET, encoding="utf-8")
    return assess(write_motor(folder), [folder / "sheet.toml"])


def first_page(paper: Paper) -> list[Block]:
    """Return what stands before the first section."""
    found: list[Block] = []
    for block in paper.blocks:
        if isinstance(block, Heading):
            break
        found.append(block)
    return found


def of_kind(blocks: Iterable[Block], kind: type[Block]) -> list[Block]:
    return [block for block in blocks if isinstance(block, kind)]


def texts(value: object) -> Iterator[str]:
    """Yield every text of a block or of several."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, tuple | list):
        for each in value:
            yield from texts(each)
    elif is_dataclass(value) and not isinstance(value, Drawing | type):
        for field in fields(value):
            yield from texts(getattr(value, field.name))


def card(paper: Paper, question: str) -> str:
    (cards,) = of_kind(first_page(paper), Cards)
    assert isinstance(cards, Cards)
    return dict(cards.cards)[question]


def sections(paper: Paper) -> list[str]:
    return [b.text for b in paper.blocks if isinstance(b, Heading) and b.level == 1]


def test_page_one_of_a_damaged_cage_answers_the_six_questions(defective: Paper) -> None:
    verdict = first_page(defective)[0]
    assert isinstance(verdict, Verdict)
    assert (verdict.shape, verdict.word) == (Shape.FILLED, "Rotor cage: defective")
    assert "equivalent to 1.1 open bars (0.91 to 1.3, 95 %)" in verdict.sentence
    assert "between 0.91 and 1.3" in card(defective, "What is it?")
    assert "Probability of a damaged cage" in card(defective, "How sure is it?")
    assert "rotor inspected" in card(defective, "What to do")
    assert re.search(r"Act .*2026-1[12]-\d\d", card(defective, "By when"))
    assert "30 000" in card(defective, "What being wrong costs")
    assert "600 000" in card(defective, "What being wrong costs")
    assert card(defective, "What was not excluded")


def test_who_decides_has_a_line_to_sign_where_nobody_has(defective: Paper) -> None:
    assert of_kind(first_page(defective), Signatures)
    sound = case_report(material(examined(made_up.sound())))
    assert not of_kind(first_page(sound), Signatures)


def test_sections_come_in_the_order_in_which_a_reader_doubts(defective: Paper) -> None:
    assert sections(defective) == [
        "All readings on one scale",
        "Reading by reading",
        "What else could it be?",
        "What being wrong costs",
        "How good the records are",
        "Safety",
        "Appendix",
    ]


def test_every_reading_has_plain_words_and_says_whether_it_is_valid(defective: Paper) -> None:
    tables = [
        b for b in defective.blocks if isinstance(b, Table) and b.columns[0].head == "Reading"
    ]
    rows = [row for table in tables for row in table.rows if len(row) == 5]
    assert [row[0] for row in rows] == [
        "Direct component",
        "Lower side line",
        "Demodulated current, amplitude",
        "Cage lines at 5th and 7th harmonic",
    ]
    assert all(str(row[1]).endswith(".") and str(row[4]).startswith("Valid") for row in rows)


def test_a_sound_cage_is_sound_up_to_its_bound() -> None:
    paper = case_report(material(examined(made_up.sound())))
    verdict = first_page(paper)[0]
    assert isinstance(verdict, Verdict)
    assert (verdict.shape, verdict.word) == (Shape.HOLLOW, "Rotor cage: sound")
    assert "no more than 0.11 bars" in card(paper, "What is it?")
    assert card(paper, "By when").startswith("Measure again")


def test_a_record_without_a_verdict_says_so_on_page_one_and_what_would_give_one() -> None:
    paper = case_report(material(examined(made_up.unreadable())))
    verdict = first_page(paper)[0]
    assert isinstance(verdict, Verdict)
    assert (verdict.shape, verdict.word) == (Shape.CROSS, "Rotor cage: not decidable")
    assert "6 % of rated" in verdict.sentence
    assert card(paper, "What is it?") == "Not known: the rotor could not be judged."
    boxes = [b for b in first_page(paper) if isinstance(b, Box)]
    assert [b.title for b in boxes] == ["What would allow a verdict"]
    assert boxes[0].items
    assert not of_kind(paper.blocks[: len(first_page(paper)) + 3], Drawing)


def test_without_costs_page_one_says_what_the_motor_file_lacks() -> None:
    paper = case_report(material(examined(made_up.damaged(), criticality=Criticality())))
    said = card(paper, "What being wrong costs")
    assert said.startswith("Not priced.")
    assert "false_pull_cost" in said
    assert "miss_cost" in said


def test_a_winding_in_doubt_leads_where_the_cage_was_not_tested(winding: Examination) -> None:
    paper = case_paper(report_of_result(winding))
    verdict = first_page(paper)[0]
    assert isinstance(verdict, Verdict)
    assert (verdict.shape, verdict.word) == (Shape.HALF, "Stator winding: suspect")
    assert sections(paper)[0] == "Winding and insulation"
    assert "Of the cage alone" in card(paper, "What being wrong costs")
    assert paper.day == date(2031, 5, 17)
    assert to_pdf(paper).startswith(b"%PDF")


def test_assess_writes_it_without_a_plant(tmp_path: Path) -> None:
    (tmp_path / "sheet.toml").write_text(WINDING_SHEET, encoding="utf-8")
    motor, target = write_motor(tmp_path), tmp_path / "report.pdf"
    done = run("assess", motor, tmp_path / "sheet.toml", "--pdf", target)
    assert done.status is ExitStatus.EXAMINED
    assert target.read_bytes().startswith(b"%PDF")
    again = run("assess", motor, tmp_path / "sheet.toml", "--pdf", target)
    assert again.status is ExitStatus.NOT_WRITTEN


@pytest.fixture(scope="module")
def repaired(tmp_path_factory: pytest.TempPathFactory) -> CaseMaterial:
    """A motor whose cage grew worse, was opened, repaired and measured again."""
    with Plant.create(tmp_path_factory.mktemp("repaired") / "plant", name="Works") as plant:
        motor = add_motor(plant, "GR-1")
        add_growing(plant, motor, [0.2, 0.3, 0.45, 0.7, 1.0, 1.5])
        case = open_case(plant, motor, "growing", on=LAST)
        add_event(plant, case, Decision(action="open it"), Entry(author="Ada", on=LAST))
        found = Outcome(
            found=Found.DAMAGED, open_bars=1, bars=(FoundBar(bar=4, damage=BarDamage.OPEN),)
        )
        add_event(plant, case, found, Entry(text=HOSTILE, on=LAST + timedelta(days=9)))
        mended = repair_of("bar 4 replaced", RepairKind.CAGE.value, {"rotor_bars": "40"})
        add_event(plant, case, mended, Entry(on=LAST + timedelta(days=20)))
        add_examination(plant, motor, LAST + timedelta(days=30), 0.02, "sound")
        told = told_trend(plant, motor, today=LAST)
        trend = TrendMaterial(
            view=told.view, events=told.events, limit_bars=trend_limits().limit_bars
        )
        view = story(plant, case, today=LAST)
    return material(examined(made_up.sound()), case=view, trend=trend)


def test_a_repair_is_told_on_page_one_and_compared_below(repaired: CaseMaterial) -> None:
    paper = case_report(repaired)
    (box,) = (b for b in first_page(paper) if isinstance(b, Box))
    assert box.title == "What became of it"
    assert any(line.startswith("The call was right.") for line in box.items)
    assert any("Repair of 2031-03-24" in line for line in box.items)
    assert "How it developed" in sections(paper)
    assert "The story of the case" in sections(paper)
    levels = [b.text for b in paper.blocks if isinstance(b, Heading) and b.level == 2]
    assert any(text.startswith("Repair of 2031-03-24 (cage repaired)") for text in levels)
    assert any(HOSTILE[:20] in text for text in texts(paper.blocks))


def test_a_decision_that_is_later_than_advised_is_called_so(repaired: CaseMaterial) -> None:
    view = repaired.case
    assert view is not None
    decision = Decision(action="pull it", due_on=date(2039, 1, 1))
    event = next(event for event in view.events if isinstance(event.what, Decision))
    signed = replace(view, events=(replace(event, what=decision),), repairs=())
    paper = case_report(material(examined(made_up.damaged()), case=signed))
    paragraphs = [b.text for b in first_page(paper) if isinstance(b, Paragraph)]
    (said,) = (text for text in paragraphs if text.startswith("Decided"))
    assert said.startswith("Decided: Pull it. By 2039-01-01. Signed by Ada on")
    assert said.endswith("That is later than this report advises.")


def test_the_danger_of_poor_insulation_stands_on_page_one() -> None:
    from cagewise.report import visit_wording

    made = replace(examined(made_up.sound()), parts=(DAMP,))
    paper = case_report(material(made))
    shown = [b for b in first_page(paper) if isinstance(b, Paragraph) and b.tone is Tone.DANGER]
    assert [b.text for b in shown] == [visit_wording.PART_INSULATION]


PDFTOTEXT = which("pdftotext")
needs_poppler = pytest.mark.skipif(PDFTOTEXT is None, reason="poppler is not installed")


def text_of_page(folder: Path, number: int) -> str:
    """Return the text of one page of the PDF in a folder."""
    command = [PDFTOTEXT or "", "-f", str(number), "-l", str(number), "paper.pdf", "-"]
    done = subprocess.run(  # noqa: S603 - the program that was found
        command, cwd=folder, capture_output=True, check=True
    )
    return done.stdout.decode("utf-8")


def as_text(pdf: bytes, folder: Path) -> str:
    """Return the text of a PDF in one line."""
    (folder / "paper.pdf").write_bytes(pdf)
    command = [PDFTOTEXT or "", "-layout", "paper.pdf", "-"]
    done = subprocess.run(  # noqa: S603 - the program that was found
        command, cwd=folder, capture_output=True, check=True
    )
    return " ".join(done.stdout.decode("utf-8").split())


@needs_poppler
def test_the_pdf_says_verdict_day_and_interval_and_agrees_with_the_document(
    defective: Paper, tmp_path: Path
) -> None:
    import json

    pdf = to_pdf(defective)
    assert to_pdf(case_report(material(examined(made_up.damaged())))) == pdf
    text = as_text(pdf, tmp_path)
    document = json.loads(to_json(examined(made_up.damaged())))
    low, high = document["pooled"]["open_bar_equivalent"]["interval"]
    assert "Rotor cage: defective" in text
    assert f"({low:.2f} to {high:.1f}, 95 %)" in text
    assert document["course"]["latest"] in text
    assert document["statement"] in text
    assert (tmp_path / "paper.pdf").read_bytes()[:5] == b"%PDF-"


@needs_poppler
def test_page_one_is_one_page_whatever_people_wrote(repaired: CaseMaterial, tmp_path: Path) -> None:
    long = "Nobody knows why this was written at such length. " * 20
    view = repaired.case
    assert view is not None
    decision = Decision(action=long, due_on=date(2039, 1, 1))
    told = tuple(
        replace(event, what=decision) if isinstance(event.what, Decision) else event
        for event in view.events
    )
    case = replace(view, events=told, case=replace(view.case, title=long))
    made = replace(examined(made_up.unreadable(), description=long), parts=(DAMP,))
    everything = replace(repaired, examination=made, case=case, site=long)
    pdf = to_pdf(case_report(everything, CaseLook(size=PaperSize.LETTER)))
    (tmp_path / "paper.pdf").write_bytes(pdf)
    second = text_of_page(tmp_path, 2)
    assert second.startswith("Case report: P-07")
    assert "Contents" in second[:200]


def test_a_hostile_motor_breaks_neither_page_nor_pdf(tmp_path: Path) -> None:
    made = examined(made_up.damaged(), tag=HOSTILE[:60], description=HOSTILE)
    look = case_report(material(made, site=HOSTILE))
    page = to_page(look)
    assert "</script><b>" not in page
    assert to_pdf(look).startswith(b"%PDF")
    name = file_name(material(made), "pdf")
    assert re.fullmatch(r"[A-Za-z0-9-]+\.pdf", name)
    assert (tmp_path / name).parent == tmp_path


def test_size_and_language_are_those_that_are_wished() -> None:
    made = material(examined(made_up.sound()))
    paper = case_paper(made, PaperWishes(size=PaperSize.LETTER, language="de", units="us"))
    assert (paper.size, paper.language) == (PaperSize.LETTER, "de")
    assert any("hp" in text for text in texts(paper.subtitle))
    verdict = first_page(paper)[0]
    assert isinstance(verdict, Verdict)
    assert verdict.word == "Läuferkäfig: in Ordnung"


def wordings() -> Iterator[str]:
    """Yield every text of the wording of the case report."""
    for module in (case_report_wording, case_readings_wording, case_appendix_wording):
        for name, value in vars(module).items():
            if name.isupper() and isinstance(value, dict):
                yield from texts([*value.values()])
            elif name.isupper() and not isinstance(value, type):
                yield from texts(value)
    yield from case_appendix_wording.GLOSSARY


def test_german_has_words_for_all_of_it() -> None:
    from cagewise.report.language import say

    with speaking("de") as missing:
        for text in wordings():
            say(text)
    assert not missing


def test_every_ground_cause_and_kind_of_measurement_has_plain_words() -> None:
    assert set(case_report_wording.WHY) == set(StateGround)
    assert set(case_report_wording.OPEN_CAUSES) == set(Cause)
    assert set(case_report_wording.OPEN_SPOTS) == set(BlindSpot)
    assert set(case_report_wording.CLASS_WORD) == {each.value for each in Support}
    assert set(case_report_wording.CLASS_PLAIN) >= {
        each for each in IndependenceClass if each.value.split(",")[0] in ("running", "start")
    }
    assert {head.name for head in HEADS} <= set(case_readings_wording.READING)


def test_no_probability_is_no_percentage() -> None:
    made = examined(made_up.damaged())
    evidence = replace(made.evidence, posterior=NotKnown("nothing was read"))
    paper = case_report(material(replace(made, evidence=evidence)))
    assert card(paper, "How sure is it?").startswith(
        "No probability can be given: nothing was read."
    )
