"""A paper as PDF, looked at by programs that had no part in making it."""

from __future__ import annotations

import json
import sys
import unicodedata
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cagewise.errors import MissingExtraError
from cagewise.report.papers.paper import (
    Blank,
    Block,
    Box,
    Cards,
    Column,
    Drawing,
    Facts,
    Heading,
    Items,
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
from cagewise.report.papers.plain import plain
from support.papers import DAY, drawing_svg, whole_paper
from support.pdf_tools import (
    POINTS_PER_MM,
    facts_of,
    made_elsewhere,
    metadata_of,
    objects_of,
    pixels_of,
    text_of,
    words_of,
)

LEFT_MM, RIGHT_MM = 23.0, 21.0
"""Margins of the template."""


@pytest.fixture(scope="module")
def whole() -> bytes:
    return to_pdf(whole_paper())


@pytest.fixture(scope="module")
def objects(whole: bytes, tmp_path_factory: pytest.TempPathFactory) -> list[dict[str, Any]]:
    return objects_of(whole, tmp_path_factory.mktemp("pdf"))


def small(*blocks: Block, **more: str) -> Paper:
    return Paper(title="A paper", day=DAY, blocks=blocks, **more)  # type: ignore[arg-type]  # text


def everywhere(text: str) -> Paper:
    """Return a paper that says the same in every place a text can have."""
    blocks: tuple[Block, ...] = (
        Heading(text=text),
        Heading(text=text, level=2),
        *(Paragraph(text=text, tone=tone) for tone in Tone),
        Items(items=(text, text), numbered=True),
        Facts(rows=((text, text),)),
        Table(columns=(Column(head=text),) * 2, rows=((text, text),), caption=text),
        Verdict(shape=Shape.HALF, word=text, sentence=text),
        Cards(cards=((text, text), (text, text))),
        Box(title=text, items=(text,), tone=Tone.DANGER),
        Drawing(svg=drawing_svg(3), alt=text, caption=text),
        Signatures(roles=(text,)),
    )
    return Paper(
        title=text,
        subtitle=text,
        day=DAY,
        blocks=blocks,
        foot=text,
        contents=True,
        keywords=(text,),
    )


PLACES = 28
"""In which :func:`everywhere` says its text on paper; not counted: alternatives, metadata."""


def letters(text: str) -> Counter[str]:
    """Return what must be found again.

    Not spaces and joiners, nor hyphens: pdftotext leaves them out at the ends of lines.
    """
    text = unicodedata.normalize("NFKC", text)
    return Counter(
        each
        for each in text
        if not each.isspace() and unicodedata.category(each) not in {"Cf", "Pd"}
    )


# ---------------------------------------------------------------- what it is


def test_all_that_is_said_stands_on_the_pages(whole: bytes) -> None:
    said = " ".join(text_of(whole).split())
    for expected in (
        "Case report: feed pump P-101",
        "Rotor cage, case 12 · plant North",
        "Take the rotor out in the shutdown of 2031-04-12",
        "31 000 EUR",
        "DANGER Before the terminal box is opened",
        "What every reading says of the cage",
        "1. Mark the drive end.",
        "≥ 100 MΩ",
        "Not decidable",
        "Name and signature",
    ):
        assert expected in said


def test_pages_are_counted_and_named_at_head_and_foot(whole: bytes) -> None:
    pages = text_of(whole, layout=True).split("\f")[:-1]
    assert len(pages) == 3
    for number, page in enumerate(pages, start=1):
        last = page.rstrip().splitlines()[-1]
        assert last.startswith("P-101 · case 12 · cagewise 0.1.0")
        assert last.endswith(f"Page {number} of 3")
        assert (page.lstrip().splitlines()[0].split("  ")[0] == "Case report: feed pump P-101") or (
            number == 1
        )


def test_contents_name_the_pages_of_sections(whole: bytes) -> None:
    contents = text_of(whole, layout=True).split("\f")[1]
    lines = contents.replace("\N{WORD JOINER}", "").splitlines()
    found = [line.split() for line in lines if "..." in line.replace(" ", "")]
    assert [(line[:3], line[-1]) for line in found] == [
        (["What", "was", "measured"], "2"),
        (["What", "the", "shop"], "3"),
    ]


@pytest.mark.parametrize(
    ("size", "points"),
    [(PaperSize.A4, "595.276 x 841.89 pts (A4)"), (PaperSize.LETTER, "612 x 792 pts (letter)")],
)
def test_both_sizes(size: PaperSize, points: str) -> None:
    assert facts_of(to_pdf(whole_paper(size)))["Page size"] == points


def test_it_is_tagged_and_says_so(whole: bytes, objects: list[dict[str, Any]]) -> None:
    facts = facts_of(whole)
    assert facts["Tagged"] == "yes"
    assert facts["Title"] == "Case report: feed pump P-101"
    assert facts["JavaScript"] == "no"
    assert facts["CreationDate"].startswith("2031-03-04T00:00:00")
    assert "<pdfuaid:part>1</pdfuaid:part>" in metadata_of(whole)
    tags = {each["/S"] for each in objects if "/S" in each and "/P" in each}
    assert {"/Title", "/H1", "/H2", "/P", "/L", "/LI", "/Table", "/TH", "/TD", "/Figure"} <= tags
    catalogue = next(each for each in objects if each.get("/Type") == "/Catalog")
    assert catalogue["/Lang"] == "u:en"


def test_a_drawing_is_told_in_words(objects: list[dict[str, Any]]) -> None:
    told = [each["/Alt"] for each in objects if "/Alt" in each]
    assert "u:Line current over 20 s; it swings by 3 A around 212 A, 16 times." in told


def test_bookmarks_are_the_headings(objects: list[dict[str, Any]]) -> None:
    marks = {each["/Title"] for each in objects if "/Title" in each and "/Parent" in each}
    assert {"u:What was measured", "u:Each reading", "u:What the shop fills in"} <= marks


def test_the_language_of_the_paper_is_that_of_the_file(tmp_path: Path) -> None:
    pdf = to_pdf(small(Paragraph(text="Der Käfig ist beschädigt."), language="de"))
    catalogue = next(x for x in objects_of(pdf, tmp_path) if x.get("/Type") == "/Catalog")
    assert catalogue["/Lang"] == "u:de"


# ---------------------------------------------------------------- the same bytes


def test_the_same_bytes_again_and_elsewhere(whole: bytes, tmp_path: Path) -> None:
    assert to_pdf(whole_paper()) == whole
    code = (
        "import sys; from support.papers import whole_paper\n"
        "from cagewise.report.papers.pdf import to_pdf\n"
        "assert not {'typst', 'matplotlib'} & set(sys.modules)  # heavy: only where needed\n"
        "sys.stdout.buffer.write(to_pdf(whole_paper()))"
    )
    elsewhere = {"TZ": "Pacific/Kiritimati", "PYTHONHASHSEED": "7", "HOME": str(tmp_path)}
    assert made_elsewhere(code, **elsewhere) == whole


def test_another_day_is_another_file(whole: bytes) -> None:
    assert to_pdf(replace(whole_paper(), day=DAY.replace(year=2032))) != whole


# ---------------------------------------------------------------- how it is set


def test_the_head_of_a_table_stands_on_each_of_its_pages() -> None:
    columns = (Column(head="Reading", share=3), Column(head="Wirkstrom", numbers=True))
    rows = tuple((f"row {number}", f"{number}") for number in range(150))
    pages = text_of(to_pdf(small(Table(columns=columns, rows=rows)))).split("\f")[:-1]
    assert len(pages) > 2
    assert all(page.count("Wirkstrom") == 1 for page in pages)


@pytest.mark.parametrize("size", PaperSize)
def test_nothing_reaches_into_the_margin(size: PaperSize) -> None:
    long = "P-101_DRIVE-END/" + "x7" * 120 + " W" + "Ö" * 200
    narrow = tuple(Column(head=long, share=share, numbers=share < 1) for share in (1, 0.2, 3))
    paper = replace(everywhere(long), size=size)
    table = Table(columns=narrow, rows=((long, "Isolationswiderstandsmessung", long),))
    pdf = to_pdf(replace(paper, blocks=(*paper.blocks, table)))
    page_width = {PaperSize.A4: 595.276, PaperSize.LETTER: 612.0}[size]
    rounding_pt = 0.5
    for page in words_of(pdf):
        for word, left, _, right, _ in page:
            assert left >= LEFT_MM * POINTS_PER_MM - rounding_pt, word
            assert right <= page_width - RIGHT_MM * POINTS_PER_MM + rounding_pt, word


def test_long_text_goes_on_on_the_next_page() -> None:
    long = "Bearing housing and all that belongs to it. " * 170
    many = "line\n" * 130
    for text in (long, many):
        heads = tuple(Column(head=head) for head in ("A", "B"))
        blocks = tuple(
            replace(each, columns=heads) if isinstance(each, Table) else each
            for each in everywhere(text).blocks
        )
        pdf = to_pdf(small(*blocks))
        said = Counter(text_of(pdf).split())
        word = text.split()[0]
        elsewhere = 5  # title, subtitle, foot, two heads
        assert said[word] >= (PLACES - elsewhere) * text.split().count(word)
        lowest_mm, page_height = 285.0, 841.89
        for page in words_of(pdf):
            assert max(bottom for *_, bottom in page) < lowest_mm / 297 * page_height


def test_a_compact_paper_takes_less_room() -> None:
    rows = tuple((f"row{number}", Blank.LINE) for number in range(30))
    table = Table(columns=(Column(head="A"), Column(head="B")), rows=rows)
    paper = small(table)
    assert len(words_of(to_pdf(paper))) == 2
    (page,) = words_of(to_pdf(replace(paper, compact=True)))
    tops = [top for word, _, top, _, _ in page if word.startswith("row")]
    least_mm = 5.5
    assert np.diff(tops).min() >= least_mm * POINTS_PER_MM


def test_a_sentence_stays_with_what_it_introduces() -> None:
    rows = tuple((f"row {number}",) for number in range(12))
    introduced = (Paragraph(text="As follows:"), Table(columns=(Column(head="Head"),), rows=rows))
    for lines in range(40, 54):
        filling = (Paragraph(text="line\n" * lines),)
        pages = text_of(to_pdf(small(*filling, *introduced))).split("\f")
        (page,) = (each for each in pages if "As follows:" in each)
        assert "row 0" in page


def test_rows_are_not_parted() -> None:
    note = "first words of it, and so on over a few lines, until the last word: ended"
    columns = (Column(head="No."), Column(head="Note", share=2.0))
    rows = tuple((str(number), note) for number in range(90))
    pages = text_of(to_pdf(small(Table(columns=columns, rows=rows)))).split("\f")[:-1]
    assert len(pages) > 2
    assert all(page.count("first words") == page.count("ended") for page in pages)


def test_tags_are_not_hyphenated() -> None:
    columns = (Column(head="Motor", share=1.0), Column(head="Note", share=9.0))
    tag = "P-101-VENTILATION"
    pdf = to_pdf(small(Table(columns=columns, rows=((tag, "x"),))))
    assert tag in "".join(text_of(pdf).split())
    assert "\N{SOFT HYPHEN}" not in text_of(pdf)


def test_words_of_a_language_are_hyphenated_in_it() -> None:
    columns = (Column(head="A", share=1.6), Column(head="B", share=8.4))
    table = Table(columns=columns, rows=(("Wicklungswiderstand", "x"),))
    said = text_of(to_pdf(small(table, language="de")))
    assert "Wicklungswider\N{SOFT HYPHEN}\nstand" in said


def test_a_blank_leaves_room_for_handwriting() -> None:
    rows = tuple((f"row{number}", Blank.LINE, Blank.BOX) for number in range(6))
    table = Table(columns=tuple(Column(head=head) for head in ("A", "B", "C")), rows=rows)
    (page,) = words_of(to_pdf(small(table)))
    tops = [top for word, _, top, _, _ in page if word.startswith("row")]
    least_mm = 8.0
    assert np.diff(tops).min() >= least_mm * POINTS_PER_MM


@pytest.fixture(scope="module")
def ink() -> dict[Shape, float]:
    """Return the blackened part of the square that a sign stands in."""
    share = {}
    for shape in Shape:
        pdf = to_pdf(small(Verdict(shape=shape, word="", sentence="")))
        pixels = pixels_of(pdf, 200)
        dark = pixels.max(axis=2) < 128
        left, side = round(LEFT_MM / 25.4 * 200), round(20 / 72 * 200)
        below_rule = np.flatnonzero(dark[:, left + 300])[:40].max() + 4
        square = dark[below_rule : below_rule + 2 * side, left : left + side]
        share[shape] = float(square.sum()) / side**2
    return share


def test_signs_are_told_apart_without_colour(ink: dict[Shape, float]) -> None:
    # a ring of 13 % of the width, a disc, and between them the half-filled one
    assert ink[Shape.NONE] == 0.0
    assert ink[Shape.FILLED] == pytest.approx(np.pi / 4, rel=0.03)
    assert ink[Shape.HOLLOW] == pytest.approx(np.pi / 4 * (1 - 0.74**2), rel=0.06)
    assert ink[Shape.HALF] == pytest.approx((ink[Shape.FILLED] + ink[Shape.HOLLOW]) / 2, rel=0.03)
    assert 0.15 < ink[Shape.CROSS] < 0.4


def test_without_drawings_there_is_no_colour() -> None:
    blocks = tuple(each for each in whole_paper().blocks if not isinstance(each, Drawing))
    pdf = to_pdf(replace(whole_paper(), blocks=blocks))
    for page in (1, 2, 3):
        assert np.ptp(pixels_of(pdf, 50, page), axis=2).max() == 0


def test_danger_is_said_and_not_said_twice() -> None:
    said = text_of(to_pdf(small(Box(title="Danger", items=("Live parts.",), tone=Tone.DANGER))))
    assert said.lower().count("danger") == 1


def test_what_says_nothing_is_drawn_too() -> None:
    empty = (
        Heading(text=" "),
        Items(items=()),
        Facts(rows=()),
        Cards(cards=()),
        Paragraph(text=""),
    )
    table = Table(columns=(Column(head=""),), rows=())
    drawing = Drawing(svg=drawing_svg(3), alt="")
    paper = Paper(title="\u200b", day=DAY, blocks=(*empty, table, drawing, Signatures(roles=())))
    assert facts_of(to_pdf(paper))["Title"] == "Untitled"


# ---------------------------------------------------------------- text is never markup

MARKUP = st.text("#$*_`<>@=[](){}\\/~-'\"&;:%|^+.,!? \n\tabAB01", max_size=50)
PHRASES = st.sampled_from(
    [
        '#read("paper.json")',
        "#set page(width: 1pt)",
        '#panic("x")',
        ']]} #eval("1") /* ',
        "= heading\n- item\n/ term: x",
        "https://example.invalid/a <label> @label $ x^2 $",
        "<script>alert(1)</script><!-- ]]> -->",
        "\u202e321 V\u202c \u2066x\u2069 \x00\x1b[31m\x7f\ud800",
        "مضخة 12.5 % מנוע P-101",
        "👩\u200d🔧 漢字 e\u0301 \ufb01 \U0010fffd \ufffe",
        "W" * 300,
        '{"blocks": []}',
    ]
)


@settings(max_examples=40, deadline=None)
@given(st.one_of(st.text(max_size=50), MARKUP, PHRASES))
def test_no_text_is_markup(text: str) -> None:
    said = letters(text_of(to_pdf(everywhere(text))))
    expected = letters(plain(text))
    for each in expected:
        expected[each] *= PLACES
    assert not expected - said


def test_what_is_typed_is_what_is_read() -> None:
    typed = "#set text(1pt) *bold* _it_ $x$ <b>&amp;</b> @ref // no comment /* none */ \\ ~ -- 'q'"
    said = text_of(to_pdf(small(Paragraph(text=typed))))
    assert typed in " ".join(said.split())


def test_marks_of_direction_move_nothing() -> None:
    said = text_of(to_pdf(small(Paragraph(text="limit \u202e021\u202c V"))))
    assert "limit 021 V" in said


def test_the_template_reads_data_only() -> None:
    folder = Path(sys.modules["cagewise.report.papers"].__path__[0])
    template = (folder / "press.typ").read_text()
    assert template.count("json(") == 1
    for word in ("eval(", "read(", "plugin(", "#import", "#include", "mode:"):
        assert word not in template


# ---------------------------------------------------------------- what is missing


def test_without_the_library_the_remedy_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "typst", None)
    with pytest.raises(MissingExtraError, match=r"pip install 'cagewise\[pdf\]'"):
        to_pdf(whole_paper())


def test_variables_of_a_drawing_become_inks() -> None:
    from cagewise.report.papers.drawing import PRINT_COLOURS, for_print

    svg = b'<svg><path style="stroke: var(--ink); fill: var(--new)"/><g fill="#66707f"/></svg>'
    made = for_print(svg).decode()
    assert "var(" not in made
    assert made.count(PRINT_COLOURS["ink"]) == 2
    assert PRINT_COLOURS["soft"] in made


def test_the_data_are_ascii_json() -> None:
    from cagewise.report.papers.press_data import press_data

    assert json.dumps(press_data(everywhere("\ud800 ü 漢"))).isascii()
