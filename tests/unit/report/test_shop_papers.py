"""The papers of the field and of the repair shop: what is on them, and that one page is one."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from datetime import date
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import TypeVar, get_args

import pytest

from cagewise.decision.plan import Plan
from cagewise.decision.repair_specification import Acceptance, LimitKind, accept, specify
from cagewise.decision.shop_checks import Check, Hold, Stage, Standing, Subject, steps_for
from cagewise.decision.verdict import State
from cagewise.history.missing import MEASURED_AFTER
from cagewise.machine.motor import Cage, Winding
from cagewise.measurement.cautions import DISCHARGE_FACTOR, TestKind, cautions_for
from cagewise.measurement.repair_return import QUESTIONS, Section
from cagewise.quantities import Estimate
from cagewise.report.language import speaking
from cagewise.report.papers import (
    measurement_order_wording,
    repair_return_wording,
    repair_specification_wording,
    shop_check_wording,
)
from cagewise.report.papers.measurement_order import OrderFacts, all_tests, measurement_order
from cagewise.report.papers.page import to_page
from cagewise.report.papers.paper import Blank, Block, Facts, Paper, PaperSize, Table, Verdict
from cagewise.report.papers.pdf import to_pdf
from cagewise.report.papers.repair_facts import RepairFacts, RepairFinding
from cagewise.report.papers.repair_specification import repair_specification
from support import plans
from support.examinations import motor

DAY = date(2031, 3, 4)
NASTY = '#panic("x") <b>$x$</b> */ \\ [a](b) = - 1.'
Kind = TypeVar("Kind")
POPPLER = shutil.which("pdftotext") is not None


def text_of(content: bytes, folder: Path) -> list[str]:
    """Return the text of every page of a PDF."""
    path = folder / "paper.pdf"
    path.write_bytes(content)
    said = subprocess.run(  # noqa: S603 - a file of this test
        ["pdftotext", "-layout", str(path), "-"],  # noqa: S607 - wherever it is installed
        capture_output=True,
        check=True,
    )
    return said.stdout.decode().split("\f")[:-1]


def words_of(paper: Paper) -> str:
    """Return everything that a paper says."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", to_page(paper)))


@cache
def accepted() -> Acceptance:
    return accept(motor(cage=Cage(rotor_bars=58)))


def facts(*subjects: Subject, cage: Cage | None = None, tag: str = "P-07") -> RepairFacts:
    known = motor(cage=cage or Cage(rotor_bars=58), winding=Winding(construction="random"))
    return RepairFacts(
        day=DAY,
        acceptance=accepted(),
        specification=specify(replace(known, tag=tag), subjects or (Subject.CAGE,)),
        case=3,
        title="side lines grow",
        finding=RepairFinding(
            day=DAY,
            state=State.DEFECTIVE,
            statement="The cage is damaged.",
            probability=0.97,
            damage_bars=Estimate(1.4, 0.7, 1.8),
            bound_bars=1.8,
            parts=(("stator insulation", State.SUSPECT, "It lies below its limit."),),
            not_excluded=(("a cut end ring", "inspection"),),
        ),
        program_version="0.1.0",
    )


@pytest.fixture(scope="module")
def of_cage() -> RepairFacts:
    return facts(tag=NASTY)


@pytest.fixture(scope="module")
def paper(of_cage: RepairFacts) -> Paper:
    return repair_specification(of_cage)


def blocks(paper: Paper, kind: type[Kind]) -> list[Kind]:
    return [block for block in paper.blocks if isinstance(block, kind)]


def test_everything_has_its_words() -> None:
    own, check = repair_specification_wording, shop_check_wording
    steps = steps_for(frozenset(Subject), dissipation=True)
    measured = {each for classes in MEASURED_AFTER.values() for each in classes}

    assert set(check.NAME) == set(Check)
    assert set(check.METHOD) == {(step.stage, step.check) for step in steps}
    assert set(check.LIMIT) == set(LimitKind)
    assert set(check.STANDING) == set(Standing)
    assert set(own.HOLD) == set(Hold)
    assert set(own.STAGE) == set(own.STAGE_NOTE) == set(own.PART) == set(Stage)
    assert set(own.SENT) == set(own.DO) == set(own.REPAIR) == set(Subject)
    assert set(own.STATE) == set(State)
    assert measured <= set(own.SITE_CLASS)
    assert set(repair_return_wording.QUESTION) == {question.key for question in QUESTIONS}
    assert set(repair_return_wording.SECTION) == set(Section)


@pytest.mark.parametrize("kind", TestKind)
def test_every_caution_has_its_few_words_on_the_order(kind: TestKind) -> None:
    for caution in cautions_for(kind):
        assert caution.id in measurement_order_wording.CAUTION


def test_the_finding_is_told_in_bars_with_its_interval(paper: Paper) -> None:
    said = words_of(paper)

    assert "about 1.4 fully open bars side by side (95 % interval 0.70 to 1.8)" in said
    assert "A cut end ring. Inspection." in said
    assert [each.word for each in blocks(paper, Verdict)] == [
        "Rotor cage: defective",
        "Stator insulation: suspect",
    ]


def test_arrival_comes_before_opening_before_repair(paper: Paper) -> None:
    said = words_of(paper)
    own = repair_specification_wording
    titles = [*own.STAGE.values(), own.REPAIR_TITLE]
    arrival, opened, repaired, repair = (said.index(" ".join(t.split())) for t in titles)

    assert arrival < opened < repair < repaired


def test_every_check_has_method_criterion_and_standard(of_cage: RepairFacts, paper: Paper) -> None:
    rows = [
        row
        for table in blocks(paper, Table)
        if table.columns[0].head == repair_specification_wording.HEADS[0]
        for row in table.rows
    ]

    assert len(rows) == len(of_cage.specification.steps)
    for row in rows:
        assert all(row), row
        assert any(standing.value in str(row[4]) for standing in Standing), row


def test_the_bar_map_has_a_place_for_every_bar_and_for_no_other(paper: Paper) -> None:
    (drawn,) = [t for t in blocks(paper, Table) if t.columns[0].head == "Bars"]
    places = [cell for row in drawn.rows for cell in row[1:]]

    assert places.count(Blank.LINE) == 58
    assert drawn.rows[-1][0] == "51 to 58"


def test_every_question_has_its_blank(of_cage: RepairFacts, paper: Paper) -> None:
    pairs = [(str(label), value) for block in blocks(paper, Facts) for label, value in block.rows]
    for table in blocks(paper, Table):
        for row in table.rows:
            pairs += [(str(a), b) for a, b in pairwise(row)]
    blank = {label for label, value in pairs if value is Blank.LINE}

    for question in of_cage.specification.questions:
        assert repair_return_wording.QUESTION[question.key] in blank, question.key


def test_what_is_unknown_is_asked() -> None:
    said = words_of(repair_specification(facts(cage=Cage())))

    assert repair_specification_wording.UNKNOWN in said
    assert repair_specification_wording.MAP_UNKNOWN in said


def test_a_winding_is_asked_for_other_things_than_a_cage(paper: Paper) -> None:
    winding, cage = words_of(repair_specification(facts(Subject.WINDING))), words_of(paper)
    strip = repair_specification_wording.HOLD[Hold.STRIP].format(burn_out="370")

    assert strip in winding
    assert strip not in cage
    assert shop_check_wording.NAME[Check.JOINTS] in cage
    assert shop_check_wording.NAME[Check.JOINTS] not in winding
    assert "2380 V a.c., rms" in winding  # 2E + 1000 at 690 V (IEC 60034-1, from memory)


@pytest.mark.skipif(not POPPLER, reason="poppler is not installed")
def test_the_specification_prints_whole_and_the_same_twice(paper: Paper, tmp_path: Path) -> None:
    content = to_pdf(paper)
    pages = text_of(content, tmp_path)

    assert content == to_pdf(paper)
    assert 7 <= len(pages) <= 12
    assert NASTY[:12] in pages[0]
    assert all("repair specification of 2031-03-04" in page for page in pages[1:])


PLANS = {
    "known": plans.known,
    "little known": plans.little_known,
    "softly started": plans.softly_started,
}


@pytest.mark.skipif(not POPPLER, reason="poppler is not installed")
@pytest.mark.parametrize(
    ("name", "size", "language"),
    [
        ("known", PaperSize.A4, "en"),
        ("softly started", PaperSize.LETTER, "de"),
        ("little known", PaperSize.LETTER, "en"),
        ("little known", PaperSize.LETTER, "de"),
        ("little known", PaperSize.A4, "de"),
    ],
)
def test_the_order_is_one_page(name: str, size: PaperSize, language: str, tmp_path: Path) -> None:
    plan = PLANS[name]()
    long = replace(plan.motor, description="x" * 40 + " of a long name in a far corner")
    facts = OrderFacts(day=DAY, plan=replace(plan, motor=long), program_version="0.1.0")
    with speaking(language):
        paper = measurement_order(facts, size)

    assert len(text_of(to_pdf(paper), tmp_path)) == 1


def ordered(plan: Plan) -> str:
    return words_of(measurement_order(OrderFacts(day=DAY, plan=plan, program_version="0.1.0")))


def test_the_order_says_what_the_plan_says() -> None:
    plan = plans.known()
    said, record = ordered(plan), plan.record

    assert f"{record.record_s:.0f} s without a break" in said
    assert f"{record.sampling_rate_hz:g} Hz, {record.bits} bits" in said
    assert f"{100 * record.load_fraction_min:.0f} %" in said
    assert f"earth {DISCHARGE_FACTOR} times as long" in said
    for angle in plan.standstill.advice.shaft_angles_deg:
        assert f"{angle:.1f}".removesuffix(".0") in said
    assert TestKind.RUNNING_RECORD in all_tests(plan)


def test_angles_are_given_as_a_step_where_a_list_has_no_room() -> None:
    plan = plans.little_known()
    advice = plan.standstill.advice

    assert f"every {advice.step_deg:.3f} from 0 to {advice.shaft_angles_deg[-1]:.1f}; then " in (
        ordered(plan)
    )


def test_cautions_come_first_and_what_does_not_apply_is_left_out() -> None:
    soft, direct = ordered(plans.softly_started()), ordered(plans.known())

    assert direct.index("never open a current-transformer secondary") < direct.index("Range")
    assert measurement_order_wording.CAUTION["no_start_for_a_record"].rstrip(";") in direct
    assert "No record: the motor is started by a soft starter" in soft
    assert measurement_order_wording.CAUTION["clear_of_the_drive"].rstrip(";") not in soft


def test_every_block_is_one_that_papers_know(paper: Paper) -> None:
    assert all(isinstance(block, get_args(Block)) for block in paper.blocks)
