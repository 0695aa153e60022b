"""Use cases: the measurement order of a motor of the plant, or of a motor file."""

from __future__ import annotations

import re
import unicodedata
from datetime import date

from cagewise import __version__
from cagewise.decision.plan import plan_for
from cagewise.machine.motor import Motor
from cagewise.report.language import speaking
from cagewise.report.measures import measuring
from cagewise.report.papers.measurement_order import OrderFacts, measurement_order
from cagewise.report.papers.paper import Paper
from cagewise.store import MotorEntry, Plant
from cagewise.workflows.paper_case import LONGEST_TAG, PaperWishes
from cagewise.workflows.plant_history import today_of
from cagewise.workflows.plant_plan import plan_of


def order_of_motor(plant: Plant, entry: MotorEntry, *, today: date | None = None) -> OrderFacts:
    """Return the measurement order of a motor of the plant, as its nameplate is today."""
    return OrderFacts(
        day=today or today_of(plant), plan=plan_of(plant, entry), program_version=__version__
    )


def order_of_file(motor: Motor, day: date) -> OrderFacts:
    """Return the measurement order of a motor that no plant keeps."""
    return OrderFacts(day=day, plan=plan_for(motor), program_version=__version__)


def order_paper(facts: OrderFacts, wishes: PaperWishes | None = None) -> Paper:
    """Return the measurement order as it is wanted."""
    wishes = wishes or PaperWishes()
    with speaking(wishes.language), measuring(wishes.units):
        return measurement_order(facts, wishes.size)


def order_name(facts: OrderFacts, ending: str) -> str:
    """Return a name without harm for the file of an order."""
    plain = unicodedata.normalize("NFKD", facts.plan.motor.tag)
    tag = re.sub(r"[^A-Za-z0-9]+", "-", plain)[:LONGEST_TAG].strip("-")
    return "-".join(filter(None, ["measurement-order", tag, facts.day.isoformat()])) + f".{ending}"
