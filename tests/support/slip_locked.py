"""Line levels of a simulated record, at the frequencies its own truth prescribes.

Least squares of all lines at once: no window width, no search, no leakage between known lines.
"""

from __future__ import annotations

import numpy as np

from cagewise.measurement import CURRENT_ROLES, Recording
from cagewise.quantities import decibel, space_vector

HIGHEST_MULTIPLE = 6
"""Multiples of the pole-pass frequency fitted on either side of every harmonic."""


class SlipLockedLines:
    """Lines at ``+-(h + 2 k s) f`` of the current space vector, ``|k| <= 6``."""

    def __init__(self, recording: Recording, harmonics: tuple[int, ...] = (1, 5, 7)) -> None:
        currents = (recording.find(role) for role in CURRENT_ROLES)
        vector = space_vector(*(c.samples for c in currents if c is not None))
        truth = recording.truth
        multiples = range(-HIGHEST_MULTIPLE, HIGHEST_MULTIPLE + 1)
        keys = [(sign, h, k) for h in harmonics for k in multiples for sign in (1, -1)]
        frequency_hz = np.array(
            [s * truth["supply_frequency_hz"] * (h + 2.0 * k * truth["slip"]) for s, h, k in keys]
        )
        time_s = np.arange(vector.size) / recording.sampling_rate_hz
        waves = np.exp(2j * np.pi * np.outer(time_s, frequency_hz))
        weight = np.hanning(vector.size) ** 2  # lines that are not fitted stay out of the others
        right = waves.conj().T @ (weight * vector)
        found = np.linalg.solve(waves.conj().T @ (weight[:, None] * waves), right)
        self._lines = dict(zip(keys, found, strict=True))

    def level_dbc(self, harmonic: int, multiple: int) -> float:
        """Return the level in phase a of the line at ``(h + 2 k s) f``."""
        forwards = self._lines[1, harmonic, multiple]
        backwards = self._lines[-1, harmonic, multiple]
        return decibel(float(abs(forwards + np.conj(backwards)) / abs(self._lines[1, 1, 0])))
