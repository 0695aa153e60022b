"""Work orders for other programs: what one says, and the document of all of them.

Every field is documented here, and only here: schema and ``docs/exports.md`` are made from these
classes (``report.work_order_schema``). A list is one cell in the rows of values separated by
commas, its members parted by a space.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from cagewise.report.asked import Asked
from cagewise.report.document_record import Documented

SCHEMA_VERSION = "1.0"
"""Changes in the first number break readers of the document; the second adds fields."""

Sort = Literal["decided", "advised"]
Status = Literal["from memory", "checked"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TaxonomyPart(Documented):
    """Where the codes of equipment and failures come from."""

    standard: str
    """Name of the standard."""
    status: Status
    """Whether the codes were held against the text of the standard."""
    note: str
    """The same in a sentence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkOrder(Documented):
    """Something that is to be done on a motor: decided by somebody, or advised and not decided."""

    key: str
    """Ours, and stable: the same decision has the same key in every export; a receiver that knows
    it changes its own order instead of making another."""
    replaces: tuple[str, ...]
    """Keys of earlier exports in whose place this one comes: they need not be done any more."""
    sort: Sort
    """Whether somebody decided it, or an examination advises it and nobody has decided."""
    asked: Asked
    """What is asked for; ``decided`` where the words of the decision say it."""
    site: str
    """Site of the plant; empty in a plant of one site."""
    tag: str
    """Plant tag of the motor."""
    motor: str
    """What the motor file calls it."""
    equipment_class: str
    """Code of the equipment class."""
    equipment_class_name: str
    """The same in words."""
    subunit: str
    """Subunit of that class."""
    maintainable_item: str
    """Item of the subunit that is in doubt; empty where none is."""
    failure_mode: str
    """Code of the failure mode; empty where no code fits."""
    failure_mode_name: str
    """The same in words; empty where no code fits."""
    failure_mechanism: str
    """Code of the failure mechanism; empty where no code fits."""
    codes_status: Status
    """Whether these codes were held against the text of the standard."""
    codes_note: str
    """Why a code is empty; empty where none is."""
    suspected: str
    """What is suspected, in our words; empty where nothing is."""
    priority: str
    """From when to when to act, in words."""
    earliest: str | None
    """First day to act, ISO 8601; null where any day from now on will do, or none is known."""
    latest: str | None
    """Last day to act, ISO 8601; null where nobody has set one."""
    planned_outage: str | None
    """Planned outage of the motor file, ISO 8601; null where it states none."""
    hours: float | None
    """Hours that two people need, getting ready included; judged; null where not known."""
    hours_note: str
    """Where the hours come from, or why there are none."""
    title: str
    """In one line."""
    text: str
    """Finding with its interval, what to do, and hold points; lines end with a line feed."""
    decided_by: str
    """Who decided; empty where nobody has."""
    case: int | None
    """Number of the case; null where there is none."""
    examination: int | None
    """Number of the examination behind it; null where there is none."""
    since: str
    """Day on which it was decided, or examined, or noted here, whichever is last, ISO 8601."""
    motor_link: str
    """Address of the page of the motor."""
    case_link: str
    """Address of the page of the case; empty where there is none."""
    examination_link: str
    """Address of the page of the examination; empty where there is none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkOrdersDocument(Documented):
    """Work orders of a plant on a day."""

    schema_version: str
    """Version of this document; the first number changes when readers would break."""
    program_version: str
    """Version of cagewise."""
    plant: str
    """Name of the plant."""
    plant_id: str
    """Identity of the plant; every key begins with its first eight characters."""
    day: str
    """Day for which it holds, ISO 8601."""
    since: str | None
    """Orders that are older are left out, ISO 8601; null where none are."""
    language: str
    """Of the texts, ISO 639-1."""
    taxonomy: TaxonomyPart
    """Where the codes come from."""
    work_orders: tuple[WorkOrder, ...]
    """What is to be done, by its last day; what has none comes last."""
