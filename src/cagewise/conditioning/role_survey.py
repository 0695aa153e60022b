"""The few numbers that roles are proven on: one phasor per channel, against one reference."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from cagewise.conditioning.steady import Stretch
from cagewise.conditioning.survey import LEAST_LINE_SHARE, Survey
from cagewise.measurement import (
    CURRENT_ROLES,
    LINE_VOLTAGE_ROLES,
    PHASE_VOLTAGE_ROLES,
    Role,
)

LIVE_PART = 0.02
"""A channel whose fundamental is below this part of the largest of its kind is not live."""


@dataclass(frozen=True, slots=True)
class RolePhasors:
    """Phasors of the live channels of a recording and which of them are what, as named."""

    phasors: Mapping[int, complex]
    """Row of the recording to peak phasor, in engineering units, against the reference row."""
    currents: tuple[int, ...]
    """Live rows with a current role, in the order a, b, c."""
    voltages: tuple[int, ...]
    """Live rows of the set of voltages that is used; empty when there is none."""
    voltage_roles: tuple[Role, ...]
    """Roles of that set: phase or line voltages."""
    dead: tuple[int, ...]
    """Rows with a stator role but without a fundamental."""
    stray: tuple[int, ...]
    """Rows without a role that hold a line-frequency sine."""

    @property
    def line(self) -> bool:
        """Whether the voltages are line voltages."""
        return self.voltage_roles is LINE_VOLTAGE_ROLES


def role_phasors(survey: Survey, stretch: Stretch | None) -> RolePhasors:
    """Return the median phasor of every channel over the blocks of a stretch, or of all blocks.

    The blocks of every channel are turned by the phase of the strongest line first, so that
    wander of the supply cancels; medians leave starts and dropouts aside.
    """
    blocks = slice(None)
    if stretch is not None:
        blocks = slice(
            stretch.start // survey.block_samples, max(stretch.stop // survey.block_samples, 1)
        )
    phasors = _phasors(survey, blocks)
    currents = _live(survey, phasors, CURRENT_ROLES)
    phase = _live(survey, phasors, PHASE_VOLTAGE_ROLES)
    line = _live(survey, phasors, LINE_VOLTAGE_ROLES)
    named_phase = survey.rows(PHASE_VOLTAGE_ROLES)
    use_phase = len(phase) == 3 or (not line and len(phase) == len(named_phase) == 3)
    stator = survey.rows(CURRENT_ROLES + PHASE_VOLTAGE_ROLES + LINE_VOLTAGE_ROLES)
    live = {*currents, *phase, *line}
    return RolePhasors(
        phasors=phasors,
        currents=currents,
        voltages=phase if use_phase else line,
        voltage_roles=PHASE_VOLTAGE_ROLES if use_phase else LINE_VOLTAGE_ROLES,
        dead=tuple(row for row in stator if row not in live),
        stray=tuple(
            row
            for row, channel in enumerate(survey.recording.channels)
            if channel.role is Role.UNASSIGNED and row in phasors
        ),
    )


def _phasors(survey: Survey, blocks: slice) -> dict[int, complex]:
    """Return the median phasor of every channel that holds the line, by row."""
    share = survey.line_share
    rows = [row for row in range(share.size) if share[row] >= LEAST_LINE_SHARE]
    if not rows or survey.n_blocks == 0:
        return {}
    # A voltage is the better reference: it is there before the motor runs.
    voltages = survey.rows(LINE_VOLTAGE_ROLES + PHASE_VOLTAGE_ROLES)
    candidates = [row for row in voltages if row in rows] or rows
    reference = survey.phasor[max(candidates, key=lambda row: float(share[row])), blocks]
    size = np.abs(reference)
    known = np.isfinite(size) & (size > 0.0)
    if not known.any():
        return {}
    turn = np.conj(reference[known]) / size[known]
    result = {}
    for row in rows:
        values = survey.phasor[row, blocks][known] * turn
        values = values[np.isfinite(values)]
        if values.size:
            result[row] = complex(np.median(values.real), np.median(values.imag))
    return result


def _live(
    survey: Survey, phasors: Mapping[int, complex], roles: tuple[Role, ...]
) -> tuple[int, ...]:
    """Return the rows of ``roles`` that hold a fundamental of a size with the others."""
    rows = [row for row in survey.rows(roles) if row in phasors]
    largest = max((abs(phasors[row]) for row in rows), default=0.0)
    return tuple(row for row in rows if abs(phasors[row]) > LIVE_PART * largest > 0.0)
