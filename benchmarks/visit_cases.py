"""Visits of known truth: the cases of ``visits.py``; ``visit_machines.py`` makes their machines.

What plant and instruments may be is drawn from the seed of the case.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from cagewise.machine.motor import Cage, Motor
from cagewise.machine.nameplate import Nameplate

PLATES = {
    "3 kW": ((3e3, 380.0, 50.0, 1420.0, 6.7, 4), 32, 36, "cast"),
    "11 kW 2p": ((11e3, 400.0, 50.0, 2940.0, 20.3, 2), 28, 36, "cast"),
    "22 kW 6p": ((22e3, 400.0, 50.0, 975.0, 43.5, 6), 44, 54, "cast"),
    "45 kW 8p": ((45e3, 400.0, 50.0, 738.0, 88.0, 8), 58, 72, "cast"),
    "75 kW 60 Hz": ((75e3, 460.0, 60.0, 1777.0, 116.0, 4), 40, 48, "cast"),
    "160 kW 2p": ((160e3, 400.0, 50.0, 2979.0, 270.0, 2), 40, 48, "cast"),
    "315 kW": ((315e3, 690.0, 50.0, 1488.0, 318.0, 4), 58, 60, "cast"),
    "400 kW 6p": ((400e3, 4160.0, 60.0, 1188.0, 70.0, 6), 54, 72, "fabricated"),
    "630 kW 8p": ((630e3, 6000.0, 50.0, 743.0, 78.0, 8), 86, 96, "fabricated"),
    "1000 kW": ((1000e3, 6600.0, 50.0, 1490.0, 103.0, 4), 44, 60, "fabricated"),
}
"""Name to power, voltage, frequency, speed, current and poles; bars; stator slots; construction.
Invented."""

ADJACENT = {"sound": 0, "one bar": 1, "two bars": 2, "three bars": 3}
FIRST_BAR = 5


@dataclass(frozen=True, kw_only=True)
class Case:
    """One visit."""

    story: str
    plate: str
    seed: int
    open_bars: tuple[int, ...] = ()
    crack: float = 1.0
    """Factor on the resistance of one bar."""
    cut_ring: bool = False
    ducts: float = 0.0
    """Wave of the gap's permeance, as many as poles."""
    positions: int | None = None
    swapped: bool = False
    """Two pairs written down under each other's name."""
    staying: float = 0.0
    """Order 2 of all pairs alike: the test set's, not the rotor's."""

    @property
    def name(self) -> str:
        """What is printed."""
        return f"{self.plate}, {self.story}"

    @property
    def adjacent(self) -> int | None:
        """Adjacent open bars; None where the truth is no such number."""
        return None if self.ducts else ADJACENT.get(self.story.split(",")[0])

    @property
    def cage_is_sound(self) -> bool:
        """Whether nothing is wrong with the cage."""
        return not self.open_bars and self.crack == 1.0 and not self.cut_ring

    @cached_property
    def scene(self) -> Scene:
        """What was drawn."""
        return Scene.drawn(self)


@dataclass(frozen=True, kw_only=True)
class Scene:
    """What plant, machine and instruments are."""

    slip_off: float
    current_off: float
    ring_share: float
    lost_leakage: float
    """Part of the stator's leakage that a starting current does not meet."""
    main_factor: float
    uneven: float
    bars_known: bool
    channels: str
    start_s: float
    constant_part: float
    load: float
    short_circuit_ratio: float
    unbalance: float
    clamp_errors: tuple[float, float, float]
    phase_errors_deg: tuple[float, float, float]
    noise: float
    repeatability: float
    angle_jitter_deg: float
    """Electrical."""
    modulus_only: bool
    earlier_starts: int
    earlier_sheets: int
    temperatures_degc: tuple[float, ...]
    """Of starts, then sheets; the present ones first."""

    @classmethod
    def drawn(cls, case: Case) -> Scene:
        """Draw from the seed."""
        rng = np.random.default_rng([case.seed, 404])
        three = [tuple(float(x) for x in rng.uniform(-1.0, 1.0, 3)) for _ in range(2)]
        return cls(
            slip_off=float(rng.uniform(0.85, 1.15)),
            current_off=float(rng.uniform(0.97, 1.03)),
            ring_share=float(rng.uniform(0.08, 0.3)),
            lost_leakage=float(rng.choice([0.0, 0.15, 0.3])),
            main_factor=float(rng.choice([1.0, 1.3])),
            uneven=float(rng.choice([0.002, 0.005, 0.01])),
            bars_known=bool(rng.random() < 0.6),
            channels=str(rng.choice(["V and I", "V and I", "V and I", "I only", "one I"])),
            start_s=float(np.exp(rng.uniform(math.log(0.25), math.log(6.0)))),
            constant_part=float(rng.choice([0.08, 0.1, 0.25])),
            load=float(rng.uniform(0.2, 0.7)),
            short_circuit_ratio=float(rng.choice([38.0, 90.0, 200.0])),
            unbalance=float(rng.uniform(0.0, 0.01)),
            clamp_errors=(0.008 * three[0][0], 0.008 * three[0][1], 0.008 * three[0][2]),
            phase_errors_deg=(0.5 * three[1][0], 0.5 * three[1][1], 0.5 * three[1][2]),
            noise=float(rng.choice([1e-3, 3e-3, 6e-3])),
            repeatability=float(rng.choice([0.0005, 0.0015, 0.003])),
            angle_jitter_deg=float(rng.choice([0.3, 1.0, 3.0])),
            modulus_only=bool(rng.random() < 0.2),
            earlier_starts=int(rng.integers(0, 4)),
            earlier_sheets=int(rng.integers(0, 4)),
            temperatures_degc=tuple(float(x) for x in rng.uniform(15.0, 90.0, 8)),
        )


def plate_motor(name: str, *, bars_known: bool) -> Motor:
    """Return the motor file of an engineer."""
    (power, voltage, frequency, speed, current, poles), bars, slots, construction = PLATES[name]
    plate = Nameplate(
        rated_power_w=power,
        rated_voltage_v=voltage,
        rated_frequency_hz=frequency,
        rated_speed_rpm=speed,
        rated_current_a=current,
        poles=poles,
    )
    cage = Cage(rotor_bars=bars, stator_slots=slots, construction=construction)
    return Motor(tag=name, nameplate=plate, cage=cage if bars_known else Cage())


def cases() -> Iterator[Case]:
    """Yield the study."""
    for number, (plate, about) in enumerate(_outline()):
        yield Case(plate=plate, seed=7300 + number, **about)


def _outline() -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield plate and what is special."""
    bars = tuple(range(FIRST_BAR, FIRST_BAR + 3))
    for plate, ((*_, poles), n, _, _) in PLATES.items():
        apart = (FIRST_BAR, FIRST_BAR + round(n / (2 * poles)))
        for extra in ("", ", again", ", once more"):
            yield plate, {"story": "sound" + extra}
        for extra in ("", ", again", ", once more"):
            yield plate, {"story": "one bar" + extra, "open_bars": bars[:1]}
        yield plate, {"story": "two bars", "open_bars": bars[:2]}
        yield plate, {"story": "three bars", "open_bars": bars}
        yield plate, {"story": "bar x2", "crack": 2.0}
        yield plate, {"story": "two at 90", "open_bars": apart}
        yield plate, {"story": "cut ring", "cut_ring": True}
        for size in (0.05, 0.2):
            yield plate, {"story": f"sound, ducts {size:.0%}", "ducts": size}
    for known in ("18 positions", "18 positions again"):
        yield "3 kW", {"story": f"sound, {known}", "positions": 18}
        yield "3 kW", {"story": f"one bar, {known}", "positions": 18, "open_bars": bars[:1]}
    for plate in ("22 kW 6p", "315 kW"):
        yield plate, {"story": "sound, pairs swapped", "swapped": True}
        yield plate, {"story": "one bar, pairs swapped", "swapped": True, "open_bars": bars[:1]}
        yield plate, {"story": "sound, staying pattern", "staying": 0.015}


ONCE = (
    "3 kW, sound",
    "3 kW, one bar",
    "3 kW, sound, 18 positions",
    "22 kW 6p, sound, pairs swapped",
)
"""The subset: short starts and few bars."""
