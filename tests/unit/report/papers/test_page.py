"""A paper as a page: one file that asks nothing of anybody."""

from __future__ import annotations

import base64
import itertools
import re
from collections import Counter
from dataclasses import replace
from html.parser import HTMLParser

from hypothesis import given, settings
from hypothesis import strategies as st

from cagewise.report.papers.page import to_page
from cagewise.report.papers.paper import (
    Blank,
    Cards,
    Column,
    Facts,
    Heading,
    Paper,
    PaperSize,
    Paragraph,
    Shape,
    Signatures,
    Table,
    Verdict,
)
from cagewise.report.papers.plain import plain, tied
from support.papers import DAY, whole_paper

VOID = {"meta", "img", "path", "circle"}


class Seen(HTMLParser):
    """What a parser makes of a page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: Counter[str] = Counter()
        self.attributes: list[tuple[str, str, str]] = []
        self.words: list[str] = []
        self.open: list[str] = []
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags[tag] += 1
        self.attributes += [(tag, name, value or "") for name, value in attrs]
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag not in VOID:
            assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open[-1:] != ["style"]:
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join("".join(self.words).replace("\xa0", " ").split())


def paper_of(text: str) -> Paper:
    blocks = (
        Heading(text=text),
        Paragraph(text=text),
        Table(columns=(Column(head=text),) * 2, rows=((text, Blank.BOX),), caption=text),
        Cards(cards=((text, text),)),
        Facts(rows=((text, Blank.LINE),)),
        Verdict(shape=Shape.HALF, word=text, sentence=text),
        Signatures(roles=(text,)),
    )
    return Paper(title=text, subtitle=text, day=DAY, blocks=blocks, foot=text, keywords=(text,))


WHOLE = Seen(to_page(whole_paper()))
PLAIN_TAGS = Seen(to_page(paper_of("x"))).tags


def test_all_that_is_said_stands_on_the_page() -> None:
    for expected in (
        "Case report: feed pump P-101",
        "How sure is it?",
        "31 000 EUR",
        "Danger Before the terminal box is opened",
        "Not decidable",
        "Name and signature",
        "P-101 · case 12 · cagewise 0.1.0",
    ):
        assert expected in WHOLE.text
    assert not WHOLE.open


def test_it_runs_nothing_and_asks_for_nothing() -> None:
    page = to_page(whole_paper())
    assert not WHOLE.tags.keys() & {"script", "link", "iframe", "object", "form", "base"}
    assert all(not name.startswith("on") for _, name, _ in WHOLE.attributes)
    addresses = [value for _, name, value in WHOLE.attributes if name in {"src", "href"}]
    assert all(each.startswith(("data:image/svg+xml;base64,", "#")) for each in addresses)
    assert "default-src 'none'" in page
    assert "@import" not in page
    assert "url(" not in page.replace("data:", "")


def test_contents_lead_to_their_sections() -> None:
    ids = {value for _, name, value in WHOLE.attributes if name == "id"}
    links = [value for _, name, value in WHOLE.attributes if name == "href"]
    assert len(links) == 2
    assert {link.removeprefix("#") for link in links} <= ids


def test_headings_skip_no_level() -> None:
    levels = [int(tag[1]) for tag in re.findall(r"<(h[1-6])", to_page(whole_paper()))]
    assert levels[0] == 1
    assert all(after <= before + 1 for before, after in itertools.pairwise(levels))


def test_drawings_are_light_or_dark_and_told_in_words() -> None:
    (source,) = (v for tag, name, v in WHOLE.attributes if (tag, name) == ("img", "src"))
    svg = base64.b64decode(source.partition(",")[2]).decode()
    assert "prefers-color-scheme:dark" in svg
    assert "var(--line)" in svg
    (told,) = (v for tag, name, v in WHOLE.attributes if (tag, name) == ("img", "alt"))
    assert told.startswith("Line current over 20 s")


def test_the_sheet_is_that_of_the_paper() -> None:
    assert "size: letter" in to_page(whole_paper(PaperSize.LETTER))
    assert "size: A4" in to_page(whole_paper())


def test_the_same_page_again_in_its_language() -> None:
    paper = replace(whole_paper(), language="de")
    assert to_page(paper) == to_page(paper)
    assert '<html lang="de">' in to_page(paper)


def test_days_and_tags_are_not_parted() -> None:
    page = to_page(replace(whole_paper(), blocks=(Paragraph(text="P-101, by 2031-04-12 <x-1>"),)))
    for whole in ("P-101", "2031-04-12", "x-1"):
        assert f'<span class="whole">{whole}</span>' in page
    assert "&lt;" in page


@settings(max_examples=60, deadline=None)
@given(
    st.one_of(
        st.text(max_size=40),
        st.text("<>&\"'={}%#-/!\\ab", max_size=40),
        st.sampled_from(
            ["</style><script>x</script>", '"><img src=x onerror=y>', "{{ 7*7 }}{% raw %}"]
        ),
    )
)
def test_no_text_is_markup(text: str) -> None:
    text = f"a{text}b"
    seen = Seen(to_page(paper_of(text)))
    assert Counter({**seen.tags, "span": 0}) == Counter({**PLAIN_TAGS, "span": 0})
    assert " ".join(tied(plain(text)).replace("\xa0", " ").split()) in seen.text
