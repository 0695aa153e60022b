"""Load or cage: three rows of values as a triangle of the same sides."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cagewise.indicators.cage.direct_component import DirectComponent
from cagewise.pictures.beat import _phasors

SEEDS = st.integers(0, 10_000)


def direct(lower: np.ndarray, upper: np.ndarray, ratio: complex, scale: float) -> DirectComponent:
    """Return what the phasors are made of."""
    bins = SimpleNamespace(energy_scale=scale)
    made = SimpleNamespace(lower=lower, upper=upper, ratio=ratio, bins=bins)
    return cast("DirectComponent", made)


@given(seed=SEEDS, scale=st.floats(0.01, 10.0), current=st.floats(0.1, 1000.0))
def test_the_sides_of_the_triangle_are_the_lengths_of_the_rows(
    seed: int, scale: float, current: float
) -> None:
    random = np.random.default_rng(seed)
    lower, upper = (
        random.standard_normal((5, 7)) + 1j * random.standard_normal((5, 7)) for _ in range(2)
    )
    ratio = complex(*random.standard_normal(2))
    swing = ratio * upper.conj()

    w, v = _phasors(direct(lower, upper, ratio, scale), current)

    unit = 100.0 * np.sqrt(scale) / current
    assert w.imag == 0.0
    assert abs(w) == pytest.approx(unit * np.linalg.norm(swing))
    assert abs(v) == pytest.approx(unit * np.linalg.norm(lower))
    assert abs(v - w) == pytest.approx(unit * np.linalg.norm(lower - swing))


def test_a_line_that_swinging_explains_lies_on_it() -> None:
    upper = np.exp(1j * np.arange(6.0))[np.newaxis]
    ratio = 0.8 - 0.3j

    w, v = _phasors(direct(ratio * upper.conj(), upper, ratio, 1.0), 50.0)

    assert v == pytest.approx(w)


def test_without_an_upper_line_everything_is_the_cage() -> None:
    lower = np.ones((1, 4), dtype=np.complex128)

    w, v = _phasors(direct(lower, 0.0 * lower, 1.0 + 0j, 1.0), 100.0)

    assert w == 0.0
    assert v == pytest.approx(2.0)
