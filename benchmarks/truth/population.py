"""The design of the population: which motor, what is wrong with it, what disturbs it.

A *scene* is one simulated motor in its plant; it gives one record, which is examined with the
channels that were connected. Scenes are numbered. Even numbers belong to half 0 of the parameter
space, odd ones to half 1: the halves share no motor, and the range of every disturbance is cut into
slabs that they take in turn. Within a half, blocks of :data:`BLOCK` scenes are a Latin hypercube:
each scenario of :data:`SCENARIOS` once, every range covered evenly. A number says everything: equal
numbers are equal scenes.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from truth.plates import PLATES, Plate

DESIGN = 1
"""Raised when a change of the design gives other scenes to the numbers."""

SCENARIOS: tuple[tuple[str, int], ...] = (
    ("sound", 6),
    ("oscillation", 8),
    ("oscillation near", 2),
    ("flicker", 3),
    ("weak_grid", 2),
    ("ducts", 2),
    ("sensor_fault", 2),
    ("crack x1.5", 2),
    ("crack x2", 4),
    ("crack x4", 2),
    ("open 1", 7),
    ("open 2", 2),
    ("open 3", 2),
    ("open 4", 1),
    ("open 1, oscillation", 2),
    ("open 1, sensor_fault", 1),
    ("apart", 2),
)
"""What is the matter and how often in a block; half of all motors are sound."""

SOUND = (
    "sound",
    "oscillation",
    "oscillation near",
    "flicker",
    "weak_grid",
    "ducts",
    "sensor_fault",
)
BLOCK = sum(count for _, count in SCENARIOS)
FIRST_BAR = 5

RANGES: Mapping[str, tuple[float, float, int]] = {
    "load": (0.10, 1.00, 9),
    "slip_off": (0.85, 1.15, 6),
    "current_off": (0.97, 1.03, 6),
    "voltage": (0.94, 1.05, 6),
    "ring_share": (0.08, 0.30, 6),
    "uneven": (0.001, 0.010, 6),
    "static": (0.05, 0.30, 6),
    "dynamic": (0.02, 0.10, 6),
    "wander_hz": (0.002, 0.020, 6),
    "unbalance": (0.0, 0.03, 6),
    "harmonics": (0.0, 0.04, 6),
    "flicker": (0.0002, 0.003, 6),
    "torque_noise": (0.002, 0.020, 6),
    "noise_db": (-80.0, -62.0, 6),
    "oscillation": (0.005, 0.060, 6),
    "beside": (0.02, 0.20, 6),
    "modulation": (0.0005, 0.005, 6),
    "duct_wave": (0.03, 0.20, 6),
    "fault_size": (0.0, 1.0, 6),
}
"""Factor to lowest and highest value and number of slabs."""

LOG_RANGES: Mapping[str, tuple[float, float, int]] = {
    "inertia": (0.4, 10.0, 6),
    "short_circuit_ratio": (12.0, 60.0, 6),
}
"""The same, even in the logarithm. ``inertia`` is over three times the usual rotor's."""

FAULTS = (
    "clamp reversed",
    "clamps swapped",
    "clamps turned",
    "two clamps on one conductor",
    "voltage leads swapped",
    "offset",
    "ratio error",
    "phase error",
    "clipping",
    "coarse counts",
    "lost samples",
)
DURATIONS = ((60.0, 0.86), (30.0, 0.08), (20.0, 0.06))
LOW_RATE_HZ, LOW_RATE_SHARE = 2500.0, 0.15
RATES_HZ = (5000.0, 10_000.0)
SHOWN = 0.45
"""Part of the sampling rate up to which lines are shown: the recorder is fast enough for the slot
lines of the motor, but for the few slow ones."""


@dataclass(frozen=True, kw_only=True)
class Scene:
    """One simulated motor in its plant; what a scenario does not use is zero."""

    number: int
    half: int
    motor: str
    poles: int
    power_w: float
    scenario: str
    load: float
    """Torque at the shaft over the rated one."""
    open_bars: tuple[int, ...]
    crack: float
    """Factor on the resistance of one bar."""
    oscillation: float
    """Torque over the rated one."""
    oscillation_at: float
    """Its frequency over the pole-pass frequency."""
    amplitude_modulation: float
    """Of the supply at the pole-pass frequency, per unit."""
    phase_modulation: float
    """The same of its phase, rad."""
    duct_wave: float
    """Permeance wave with as many periods as poles, over the mean."""
    fault: str
    fault_size: float
    """Where in its range the fault is, 0 to 1."""
    short_circuit_ratio: float
    """Short-circuit over rated apparent power; 0 for a stiff supply."""
    deep_bars: bool
    main_saturation: float
    """Magnetising force over that of the gap; 1 for linear iron."""
    quadratic: bool
    """Whether the load follows the square of the speed instead of being constant."""
    bars_known: bool
    duration_s: float
    rate_hz: float
    bits: int
    also: tuple[str, ...]
    """Reduced channels with which the record is examined once more."""
    visit: bool
    """Whether the motor is also started and tested at rest."""
    slip_off: float
    current_off: float
    voltage: float
    ring_share: float
    uneven: float
    static: float
    dynamic: float
    wander_hz: float
    unbalance: float
    harmonics: float
    flicker: float
    torque_noise: float
    noise_db: float
    inertia: float

    @property
    def plate(self) -> Plate:
        """The nameplate."""
        return PLATES[self.half][self.motor]

    @property
    def is_sound(self) -> bool:
        """Whether the cage is as even as cages are."""
        return self.scenario in SOUND

    @property
    def seed(self) -> int:
        """Seed of everything random in the simulation."""
        return 40_000 + self.number

    def resistance_factors(self) -> dict[int, float]:
        """Return the factors on the resistances of the bars that are not open."""
        rng = np.random.default_rng([self.seed, 9])
        factors = 1.0 + self.uneven * rng.standard_normal(self.plate.bars)
        factors[FIRST_BAR] *= self.crack
        return {k: float(x) for k, x in enumerate(factors) if k not in self.open_bars}

    @property
    def hypothesis(self) -> str:
        """What is true of the cage."""
        if self.scenario == "apart":
            return "apart"
        if self.crack > 1.0:
            return "partial"
        return ("sound", "one", "two", "three_or_more", "three_or_more")[len(self.open_bars)]

    def fields(self) -> dict[str, Any]:
        """Return the fields of the case as they are stored."""
        return {"design": DESIGN, **asdict(self), "seed": self.seed}


def scene(number: int) -> Scene:
    """Return the scene of a number."""
    half = number % 2
    block, place = divmod(number // 2, BLOCK)
    draw = _Draw(half, block, place)
    what = draw.of(tuple(name for name, count in SCENARIOS for _ in range(count)), "scenario")
    motor = draw.of(tuple(PLATES[half]), "motor")
    plate = PLATES[half][motor]
    values = {name: draw.between(name) for name in (*RANGES, *LOG_RANGES)}
    turned, beside = "oscillation" in what, values.pop("beside")
    modulated, modulation = what == "flicker", values.pop("modulation")
    by_phase = draw.chance(0.5, "by phase")
    weak = what == "weak_grid" or (what != "ducts" and draw.chance(0.06, "weak grid"))
    side = 1.0 if draw.chance(0.5, "side") else -1.0
    values |= {
        "oscillation": values["oscillation"] if turned else 0.0,
        "oscillation_at": 1.0 + side * beside if what == "oscillation near" else 1.0,
        "duct_wave": values["duct_wave"] if what == "ducts" else 0.0,
        "fault_size": values["fault_size"] if "sensor_fault" in what else 0.0,
        "short_circuit_ratio": values["short_circuit_ratio"] if weak else 0.0,
        "amplitude_modulation": modulation if modulated and not by_phase else 0.0,
        "phase_modulation": 2.0 * modulation if modulated and by_phase else 0.0,
        "flicker": 3.0 * values["flicker"] if modulated else values["flicker"],
    }
    also = ("currents",) * draw.chance(0.35, "currents") + ("one current",) * draw.chance(
        0.2, "one"
    )
    plain = what not in ("ducts", "sensor_fault", "open 1, sensor_fault")
    return Scene(
        number=number,
        half=half,
        motor=motor,
        poles=plate.poles,
        power_w=plate.power_w,
        scenario=what,
        open_bars=_open_bars(what, plate),
        crack=float(what.removeprefix("crack x")) if what.startswith("crack") else 1.0,
        fault=draw.of(FAULTS, "fault") if "sensor_fault" in what else "",
        deep_bars=draw.chance(0.33, "deep"),
        main_saturation=draw.of((1.0, 1.0, 1.15, 1.3), "main") if what != "ducts" else 1.0,
        quadratic=draw.chance(0.5, "quadratic"),
        bars_known=draw.chance(0.6, "bars known"),
        duration_s=draw.weighted(DURATIONS, "duration"),
        rate_hz=_rate_hz(what, plate, slow=draw.chance(LOW_RATE_SHARE, "rate")),
        bits=draw.of((16, 16, 16, 12), "bits"),
        also=also,
        visit=plain and draw.chance(0.125, "visit"),
        **values,
    )


def _rate_hz(what: str, plate: Plate, *, slow: bool) -> float:
    """Return the sampling rate of the recorder; a shaped gap has no slot lines to be shown."""
    enough = (rate for rate in RATES_HZ if SHOWN * rate > plate.slot_lines_hz)
    if what == "ducts":
        return RATES_HZ[0]
    return LOW_RATE_HZ if slow else next(enough, RATES_HZ[-1])


def _open_bars(what: str, plate: Plate) -> tuple[int, ...]:
    """Return the bars that carry no current."""
    if what == "apart":
        return FIRST_BAR, FIRST_BAR + round(plate.bars / (2 * plate.poles))
    count = int(what[len("open ")]) if what.startswith("open") else 0
    return tuple(range(FIRST_BAR, FIRST_BAR + count))


@dataclass(frozen=True)
class _Draw:
    """Draws for one place of a block: a Latin hypercube over the block."""

    half: int
    block: int
    place: int

    def part(self, name: str) -> float:
        """Return a number from 0 to 1; the places of a block cover that range evenly."""
        key = [DESIGN, self.half, self.block, zlib.crc32(name.encode())]
        rng = np.random.default_rng(key)
        order, within = rng.permutation(BLOCK), rng.random(BLOCK)
        return float((order[self.place] + within[self.place]) / BLOCK)

    def chance(self, probability: float, name: str) -> bool:
        """Return true in this part of the scenes."""
        return self.part(name) < probability

    def of(self, choices: Sequence[Any], name: str) -> Any:  # noqa: ANN401  # whatever the choices are
        """Return one of the choices, each as often."""
        return choices[int(self.part(name) * len(choices))]

    def weighted(self, choices: Sequence[tuple[float, float]], name: str) -> float:
        """Return one of the values with their shares."""
        part = self.part(name)
        for value, share in choices:
            part -= share
            if part < 0.0:
                return value
        return choices[-1][0]

    def between(self, name: str) -> float:
        """Return a value from the slabs of the range that belong to this half."""
        if name in LOG_RANGES:
            low, high, slabs = LOG_RANGES[name]
            return math.exp(self._in_slabs(name, math.log(low), math.log(high), slabs))
        return self._in_slabs(name, *RANGES[name])

    def _in_slabs(self, name: str, low: float, high: float, slabs: int) -> float:
        """Return a value from every second slab, the first one for half 0."""
        mine = range(self.half, slabs, 2)
        place = self.part(name) * len(mine)
        slab = mine[int(place)]
        return low + (high - low) * (slab + place % 1.0) / slabs
