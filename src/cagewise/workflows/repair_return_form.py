"""Use case: the empty return sheet of a repair, as a file for the shop."""

from __future__ import annotations

from collections.abc import Iterator

from cagewise.decision.repair_specification import RepairSpecification
from cagewise.measurement.repair_return import Section
from cagewise.readers.repair_return import AskedRow, EmptyReturn, write_return_form
from cagewise.report.language import say
from cagewise.report.papers import repair_return_wording as words
from cagewise.report.papers import repair_specification_wording as own
from cagewise.report.papers.repair_return_sheet import question_text


def empty_return(specification: RepairSpecification, case: int | None) -> EmptyReturn:
    """Return the empty sheet of a specification, in the language of the moment."""
    return EmptyReturn(
        motor_tag=specification.motor.tag,
        case=case,
        notes=tuple(map(say, words.FORM_NOTES)),
        rows=tuple(_rows(specification)),
        bars=say(own.BARS_FOUND),
        photographs=say(words.PHOTOGRAPHS),
    )


def empty_return_file(specification: RepairSpecification, case: int | None, ending: str) -> bytes:
    """Return the empty sheet as a file.

    Raises
    ------
    OutputError, MissingExtraError
        If there is no such form, or its library is not installed.
    """
    return write_return_form(empty_return(specification, case), ending)


def _rows(specification: RepairSpecification) -> Iterator[AskedRow]:
    """Yield headings and questions."""
    for section in Section:
        asked = [q for q in specification.questions if q.section is section]
        if asked:
            yield AskedRow(key="", text=say(words.SECTION[section]))
        for question in asked:
            yield AskedRow(key=question.key, text=question_text(question), choices=question.choices)
