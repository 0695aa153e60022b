"""What the user typed, checked: numbers and roles that options state."""

from __future__ import annotations

import math

from cagewise.errors import ChannelRoleError, UsageError


def positive(value: float | None, option: str, unit: str) -> float | None:
    """Return a number that the user stated, if it can be one."""
    if value is not None and not 0.0 < value < math.inf:
        raise UsageError(f"must be a positive number of {unit}, got {value:g}", where=option)
    return value


def prevalence_of(value: float | None) -> float | None:
    """Return the share of defective cages that the user stated, if it can be one."""
    from cagewise.workflows.assess import PREVALENCES

    low, high = PREVALENCES
    if value is not None and not low <= value <= high:
        raise UsageError(
            f"must be a share between {low:g} and {high:g}, got {value:g}",
            where="--prevalence",
            remedy="0.02 means that 2 of 100 such motors have a defective cage.",
        )
    return value


def roles_of(options: list[str]) -> dict[str, str]:
    """Return the roles that the user stated, checked and as they were written."""
    from cagewise.measurement.role_text import parse_role_options

    try:
        parse_role_options(options)
    except ChannelRoleError as error:
        raise UsageError(error.what, where="--role", remedy=error.remedy) from error
    stated = (option.rpartition("=") for option in options)
    return {name: text for name, _, text in stated}
