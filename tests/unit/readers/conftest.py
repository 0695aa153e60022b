"""Fixtures of the reader tests."""

from __future__ import annotations

import pytest

from cagewise.measurement import Recording
from support.round_trip import build_recording


@pytest.fixture
def recording() -> Recording:
    """Return a recording with integer and float channels."""
    return build_recording()
