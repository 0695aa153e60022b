"""Numbers in addresses: those that a database can hold."""

from __future__ import annotations

from typing import Annotated

from fastapi import Path

LARGEST = (1 << 63) - 1
"""A larger one would end in an error of the database, not in "there is none"."""

Number = Annotated[int, Path(ge=1, le=LARGEST)]
"""Parameter of a route: number of a motor, a visit, an account, a job."""
