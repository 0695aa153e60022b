"""Kernels: what hides from what, and agreement with the names of the cage lines."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cagewise.machine.kernels import (
    KERNEL_ORDERS,
    bar_angles_rad,
    hidden_spacings_rad,
    kernel,
)
from cagewise.machine.lines import cage_rules


@pytest.mark.parametrize(
    ("spacing_deg", "expected"),
    [
        (90.0, {0: 2.0, 2: 0.0, 4: 2.0, 6: 0.0, 8: 2.0}),
        (45.0, {0: 2.0, 2: np.sqrt(2.0), 4: 0.0, 6: np.sqrt(2.0), 8: 2.0}),
        (180.0, {0: 2.0, 2: 2.0, 4: 2.0, 6: 2.0, 8: 2.0}),
    ],
)
def test_two_bars(spacing_deg: float, expected: dict[int, float]) -> None:
    """Zeros and maxima of K_m for two bars."""
    angles = np.radians([0.0, spacing_deg])
    for order, value in expected.items():
        assert kernel(angles, order) == pytest.approx(value, abs=1e-12)


def test_kernel_orders_agree_with_the_line_rules() -> None:
    for rule in cage_rules(2):
        assert KERNEL_ORDERS[rule.name] == rule.kernel


@given(
    angles=st.lists(st.floats(0.0, 6.28), min_size=1, max_size=6),
    turn=st.floats(0.0, 6.28),
    order=st.sampled_from([0, 2, 4, 6, 8]),
)
def test_kernel_does_not_depend_on_where_counting_starts(
    angles: list[float], turn: float, order: int
) -> None:
    turned = [angle + turn for angle in angles]
    assert kernel(turned, order) == pytest.approx(kernel(angles, order), abs=1e-9)
    assert 0.0 <= kernel(angles, order) <= len(angles) + 1e-9


@pytest.mark.parametrize("order", [2, 4, 6, 8])
def test_hidden_spacings_are_all_and_only_the_zeros(order: int) -> None:
    spacings = hidden_spacings_rad(order)
    for spacing in spacings:
        assert kernel([0.0, spacing], order) < 1e-12
    fine = np.linspace(1e-6, np.pi, 20_001)
    values = np.abs(1.0 + np.exp(1j * order * fine))
    assert np.count_nonzero(np.diff(np.sign(np.diff(values))) > 0) == spacings.size
    assert hidden_spacings_rad(0).size == 0


def test_weights_and_bar_numbers() -> None:
    """On 32 bars and 4 poles, bars 4 apart stand 90 electrical degrees apart."""
    angles = bar_angles_rad([0, 4], 32, 2)
    np.testing.assert_allclose(angles, [0.0, np.pi / 2.0])
    assert kernel(angles, 2, [1.0, 0.5]) == pytest.approx(0.5)
