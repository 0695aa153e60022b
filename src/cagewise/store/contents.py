"""How much a plant holds."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from cagewise.store.tables import Base
from cagewise.store.tables.case import CaseRow
from cagewise.store.tables.examination import ExaminationRow
from cagewise.store.tables.motor import MotorRow
from cagewise.store.tables.visit import RecordingRow, TestSheetRow, VisitRow


@dataclass(frozen=True, slots=True, kw_only=True)
class Contents:
    """Numbers of what a plant holds."""

    motors: int
    visits: int
    recordings: int
    test_sheets: int
    examinations: int
    cases: int


def contents_of(session: Session) -> Contents:
    """Count what a plant holds."""

    def count(table: type[Base]) -> int:
        return session.execute(select(func.count()).select_from(table)).scalar_one()

    return Contents(
        motors=count(MotorRow),
        visits=count(VisitRow),
        recordings=count(RecordingRow),
        test_sheets=count(TestSheetRow),
        examinations=count(ExaminationRow),
        cases=count(CaseRow),
    )
