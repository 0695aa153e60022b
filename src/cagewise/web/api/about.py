"""What is served: the plant and the version."""

from __future__ import annotations

from fastapi import APIRouter
from pydantic import BaseModel

from cagewise import __version__
from cagewise.web.desk import AtDesk
from cagewise.web.security.access import MayRead

router = APIRouter(tags=["about"])


class About(BaseModel):
    """The plant that is served, and by what."""

    plant_id: str
    name: str
    time_zone: str
    version: str


@router.get("/about")
def about(desk: AtDesk, _: MayRead) -> About:
    """Return which plant is served."""
    plant = desk.plant.about
    return About(
        plant_id=plant.plant_id, name=plant.name, time_zone=plant.time_zone, version=__version__
    )
