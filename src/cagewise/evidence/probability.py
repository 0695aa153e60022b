"""The seam where calibrated fusion will plug in; until then there is no probability, and why.

A probability of a defect needs the rates of false and missed alarms of each class, their
correlation, and how often cages are defective, from motors whose truth is known. None of that is
published for a random population of motors, so nothing is printed that looks like it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from cagewise.evidence.findings import ClassVerdict
from cagewise.quantities import NotKnown


class Calibration(Protocol):
    """Turns votes of classes into a probability; made from motors whose truth is known."""

    def probability(self, classes: Sequence[ClassVerdict]) -> float | NotKnown:
        """Return the probability of a cage defect, or why it is not known."""
        ...


class NotCalibrated:
    """The calibration before any truth study: there is none."""

    def probability(self, classes: Sequence[ClassVerdict]) -> float | NotKnown:
        """Return that the probability is not known, whatever the votes."""
        del classes
        return NotKnown("not calibrated; that takes studies of motors of known truth")
