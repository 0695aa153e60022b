"""How many random moments the tests that kill processes try.

``CAGEWISE_MOMENTS=100`` tries as many; a few are enough to see that nothing broke.
"""

from __future__ import annotations

import os
from typing import Any

import pytest

VARIABLE = "CAGEWISE_MOMENTS"
USUAL = 6


def seeds_of_kills(quick: int = 2) -> list[Any]:
    """Return seeds for random moments; all but the first few are slow tests."""
    count = int(os.environ.get(VARIABLE, USUAL))
    slow = (pytest.param(seed, marks=pytest.mark.slow) for seed in range(quick, count))
    return [*range(min(quick, count)), *slow]
