"""Which cautions go with which measurement, laid out so that none is said twice.

The sentences stand in :mod:`cagewise.measurement.cautions`: the writer of the empty test sheet
(``readers``) shows them too and may import neither this package nor ``report``.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from cagewise.measurement.cautions import (
    DEFERENCE,
    ON_LINE,
    Caution,
    TestKind,
    cautions_for,
    own_cautions,
    shared_cautions,
)

__all__ = ["Caution", "CautionGroup", "TestKind", "cautions_for", "grouped_cautions"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CautionGroup:
    """Cautions of one occasion; together the groups say each caution once."""

    tests: tuple[TestKind, ...]
    """What they are for, in the order given."""
    cautions: tuple[Caution, ...]


def grouped_cautions(tests: Iterable[TestKind]) -> tuple[CautionGroup, ...]:
    """Return the cautions of several measurements, each said once, the most general first.

    First what all measurements of the live motor, or of the motor at rest, share; then each caution
    of the single tests with all the tests that have it; the deference to local rules last.
    """
    asked = tuple(dict.fromkeys(tests))
    groups = [
        CautionGroup(tests=members, cautions=shared_cautions(members[0]))
        for members in (
            tuple(t for t in asked if t in ON_LINE),
            tuple(t for t in asked if t not in ON_LINE),
        )
        if members
    ]
    for members, cautions in _by_tests(asked).items():
        groups.append(CautionGroup(tests=members, cautions=tuple(cautions)))
    if groups:
        groups.append(CautionGroup(tests=asked, cautions=(DEFERENCE,)))
    return tuple(groups)


def _by_tests(asked: tuple[TestKind, ...]) -> dict[tuple[TestKind, ...], list[Caution]]:
    """Return the own cautions by the set of tests that have them, in order of appearance."""
    having: dict[str, list[TestKind]] = {}
    known: dict[str, Caution] = {}
    for test in asked:
        for caution in own_cautions(test):
            known[caution.id] = caution
            having.setdefault(caution.id, []).append(test)
    groups: dict[tuple[TestKind, ...], list[Caution]] = {}
    for name, members in having.items():
        groups.setdefault(tuple(members), []).append(known[name])
    return groups
