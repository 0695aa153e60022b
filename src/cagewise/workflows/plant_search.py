"""Use case: the motors of a plant that are wanted and fit some words."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from cagewise.store import Plant
from cagewise.workflows.find_motor import fits
from cagewise.workflows.plant_choice import ListedMotors, ListOrder, Wanted, list_motors, with_only


def search_motors(
    plant: Plant, wanted: Wanted, words: str = "", *, on: date | None = None
) -> ListedMotors:
    """Return motors that are wanted and whose tag, description or site holds every word.

    Parameters
    ----------
    plant
        Open.
    wanted
        Which motors; by risk where it states no order.
    words
        Capitals do not count; no words fit every motor.
    on
        Day on which something is due or not; today if None.
    """
    order = wanted.order or (ListOrder.DUE if wanted.due else ListOrder.RISK)
    listed = list_motors(plant, replace(wanted, order=order), on=on)
    parts = words.casefold().split()
    if not parts:
        return listed
    motors = [m for m in listed.view.ranking.motors if fits(listed.entries[m.tag], parts)]
    return replace(listed, view=with_only(listed.view, motors))
