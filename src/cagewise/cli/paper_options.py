"""The options of the commands that write a paper, and the paper as it is wanted."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import Parameter

if TYPE_CHECKING:
    from cagewise.report.papers.paper import Paper
    from cagewise.workflows.paper_case import PaperWishes


@Parameter(name="*")
@dataclass(frozen=True, slots=True, kw_only=True)
class PrintOptions:
    """How a paper is printed."""

    paper: Literal["a4", "letter"] = "a4"
    """Size of the sheets."""
    units: Literal["metric", "us"] = "metric"
    """Units: metric, or US customary (hp, \N{DEGREE SIGN}F)."""
    language: str = "en"
    """Language, as in de."""

    def wishes(self) -> PaperWishes:
        """Return them for a use case."""
        from cagewise.report.papers.paper import PaperSize
        from cagewise.workflows.paper_case import PaperWishes

        return PaperWishes(size=PaperSize(self.paper), units=self.units, language=self.language)


@Parameter(name="*")
@dataclass(frozen=True, slots=True, kw_only=True)
class PaperOptions(PrintOptions):
    """In which form a paper is written, and where."""

    pdf: bool = False
    """As PDF, for printing and sending; this is what is written if nothing is said. It needs the
    extra "pdf"."""
    html: bool = False
    """As a self-contained page."""
    output: Annotated[Path | None, Parameter(name=("--output", "-o"))] = None
    """File to write; named after the motor, in this folder, if left out."""
    force: bool = False
    """Replace an existing file."""


@Parameter(name="*")
@dataclass(frozen=True, slots=True, kw_only=True)
class OrderOptions(PrintOptions):
    """The measurement order, beside a plan on the screen."""

    pdf: Path | None = None
    """Write the measurement order, one page for the field. It needs the extra "pdf"."""
    html: Path | None = None
    """Write the measurement order as a self-contained page."""
    force: bool = False
    """Replace an existing file."""


def drawn(paper: Paper, *, pdf: bool) -> bytes:
    """Return a paper as a file.

    Raises
    ------
    MissingExtraError
        If what makes PDFs is not installed.
    """
    if pdf:
        from cagewise.report.papers.pdf import to_pdf

        return to_pdf(paper)
    from cagewise.report.papers.page import to_page

    return to_page(paper).encode()
