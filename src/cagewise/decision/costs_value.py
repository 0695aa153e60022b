"""Tables of costs: the cheapest action, and what it is worth to know more before acting.

Textbook decision analysis (Raiffa, *Decision Analysis*, 1968): rows are actions, columns are states
of nature. Nothing here knows of motors.
"""

from __future__ import annotations

from collections.abc import Sequence

Table = Sequence[Sequence[float]]
"""Cost of each action (outer) in each state (inner)."""


def odds_rule(false_cost: float, miss_cost: float) -> float:
    """Return the probability above which acting is cheaper than not acting.

    ``P/(1 - P) = C_false/C_miss`` for two actions and two states: acting on a sound motor costs
    ``C_false``, leaving a defective one costs ``C_miss``, being right costs nothing.
    """
    return false_cost / (false_cost + miss_cost)


def expected_costs(prior: Sequence[float], costs: Table) -> tuple[float, ...]:
    """Return the expected cost of every action; ``prior`` need not sum to one."""
    return tuple(sum(p * c for p, c in zip(prior, row, strict=True)) for row in costs)


def value_of_perfect_information(prior: Sequence[float], costs: Table) -> float:
    """Return what knowing the state before acting saves on average; never negative."""
    least = [min(row[state] for row in costs) for state in range(len(prior))]
    informed = sum(p * cost for p, cost in zip(prior, least, strict=True))
    return max(0.0, min(expected_costs(prior, costs)) - informed)


def value_of_sample_information(
    prior: Sequence[float], costs: Table, likelihood: Sequence[Sequence[float]]
) -> float:
    """Return what an imperfect look before acting saves on average, its own cost left out.

    Parameters
    ----------
    prior
        Probability of each state.
    costs
        Cost of each action in each state.
    likelihood
        Probability of each result (outer) in each state (inner); each column sums to one.

    Returns
    -------
    float
        Expected saving, between zero and the value of perfect information.
    """
    informed = 0.0
    for row in likelihood:
        joint = [p * chance for p, chance in zip(prior, row, strict=True)]
        informed += min(expected_costs(joint, costs))
    return max(0.0, min(expected_costs(prior, costs)) - informed)


def lower_envelope(
    lines: Sequence[tuple[float, float]], low: float, high: float
) -> tuple[tuple[float, int], ...]:
    """Return where which of several straight lines is the lowest.

    Parameters
    ----------
    lines
        Intercept and slope of each line.
    low, high
        Range of the abscissa; ``high`` may be infinite.

    Returns
    -------
    tuple
        Beginning of each stretch and the index of its line, from left to right.
    """
    at = low
    best = min(range(len(lines)), key=lambda k: (_height(lines[k], at), lines[k][1], k))
    stretches = [(at, best)]
    while True:
        crossings = [
            (_crossing(lines[best], line), line[1], k)
            for k, line in enumerate(lines)
            if line[1] < lines[best][1]
        ]
        if not crossings:
            return tuple(stretches)
        where, _, best = min(crossings)
        if where >= high:
            return tuple(stretches)
        at = max(at, where)
        stretches.append((at, best))


def _height(line: tuple[float, float], at: float) -> float:
    """Return a line's value."""
    return line[0] + line[1] * at


def _crossing(upper: tuple[float, float], other: tuple[float, float]) -> float:
    """Return where ``other``, of smaller slope, comes below ``upper``."""
    return (other[0] - upper[0]) / (upper[1] - other[1])
