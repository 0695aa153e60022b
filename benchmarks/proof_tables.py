"""Tables that prove the simulation: ``python benchmarks/proof_tables.py`` (``--once``: a few rows).

Reference motor R3K, 3 kW: what is printed in its reference tables, computed elsewhere by a
bar-by-bar model, beside what is computed here, in the time domain and by the harmonic solution of
the cage; and the start of the same motor by an independent drive simulator. The run fails where a
difference is larger than what is demanded. Needs the ``test`` extra: reference values and line
levels are those of the tests.
"""

from __future__ import annotations

import argparse
import math
import sys
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import numpy as np

from cagewise.quantities import RealArray, decibel
from cagewise.simulation import (
    Damage,
    Load,
    Setup,
    Supply,
    reference_motor_r3k,
    simulate,
    trajectory,
)
from cagewise.simulation.machine import geometry
from cagewise.simulation.plant.recorder import GUARD_SAMPLES
from cagewise.simulation.standstill import position_orders, positions, standstill_impedance

TESTS = Path(__file__).resolve().parents[1] / "tests"

SETUP = Setup(
    geometry=reference_motor_r3k(),
    supply=Supply(line_voltage_rms_v=220.0 * math.sqrt(3.0), frequency_hz=50.0),
)

STEADY = (
    (0.0, 1500.0, 3.928),
    (2.02, 1494.05, 3.944),
    (5.05, 1484.92, 4.099),
    (10.1, 1469.00, 4.677),
    (15.15, 1452.04, 5.568),
    (20.2, 1433.76, 6.684),
    (25.0, 1414.88, 7.904),
)
"""Torque N m, speed rpm, current A rms."""

FALSE_ORDERS = (
    (12, 0.0, 0.23), (14, 0.30, 0.08), (18, 0.30, 0.08), (20, 0.0, 0.30), (36, 0.0, 0.08),
    (16, 0.0, 0.0), (24, 0.0, 0.0), (37, 0.0, 0.0),
)  # fmt: skip
"""Positions per pole pair, false 2nd and 4th order of a sound rotor in per cent of L."""

SPEED_RPM, CURRENT, FUNDAMENTAL_DB, HARMONIC_DB, TWIN_DB = 0.2, 3e-3, 0.3, 1.0, 0.2
"""Demanded: of the steady table, of the lines beside 1st and 5th/7th, of the two solutions."""


class Book:
    """Prints rows and remembers what was too far off."""

    def __init__(self) -> None:
        self.faults: list[str] = []

    def head(self, title: str, *columns: str) -> None:
        """Begin a table."""
        print(f"\n{title}")
        print("  ".join(f"{column:>12}" for column in columns))

    def row(self, name: str, values: Iterable[float], form: str = "12.4f") -> None:
        """Print a row."""
        print("  ".join([f"{name:>12}", *(f"{value:{form}}" for value in values)]))

    def demand(self, what: str, difference: float, most: float) -> None:
        """Remember a difference that is too large."""
        if not abs(difference) <= most:
            self.faults.append(f"{what}: off by {difference:.4g}, allowed {most:.4g}")


def inductances(book: Book) -> None:
    """Compare unit inductances and winding orders, to the printed digits."""
    m = SETUP.geometry
    own = geometry.stator_gap_inductance_h(m)
    mutual = geometry.stator_gap_inductance_h(m, 2.0 * math.pi / 3.0)
    gap = geometry.rotor_gap_inductance_h(m)
    printed = {
        "K uH": (9.3638, 1e6 * m.permeance_h, 5e-5),
        "L_aa mH": (122.593, 1e3 * own, 5e-4),
        "L_ab mH": (-51.009, 1e3 * mutual, 5e-4),
        "L_s mH": (178.32, 1e3 * (m.stator_leakage_h + own - mutual), 5e-3),
        "M_1 uH": (113.28, 1e6 * geometry.mutual_amplitude_h(m, 1), 5e-3),
        "L_kk uH": (1.7811, 1e6 * gap[5, 5], 5e-5),
        "L_kj nH": (-57.46, 1e9 * gap[5, 9], 5e-3),
        "R_b uohm": (108.5, 1e6 * m.bar_resistance_ohm, 0.05),
        "L_b uH": (0.2568, 1e6 * m.bar_leakage_h, 5e-5),
    }
    for order, turns in ((1, 62.3245), (3, -14.43), (5, 2.8256), (7, 1.6453)):
        printed[f"N_{order}"] = (turns, geometry.stator_winding_amplitude(m, order), 5e-5)
    book.head("Unit inductances", "", "printed", "computed", "difference")
    for name, (reference, found, digit) in printed.items():
        book.row(name, (reference, found, found - reference))
        book.demand(name, found - reference, digit)


def steady(book: Book, *, once: bool) -> None:
    """Compare speed and current against torque."""
    book.head("Steady running", "N m", "rpm", "computed", "diff.", "A", "computed", "diff. %")
    for torque, rpm, ampere in STEADY[5:6] if once else STEADY:
        setup = replace(SETUP, load=Load(torque_nm=torque))
        truth = simulate(setup, duration_s=0.5, sampling_rate_hz=5000.0, settling_s=1.5).truth
        speed, current = truth["speed_rpm"], truth["current_rms_a"]
        relative = current / ampere - 1.0
        book.row(
            f"{torque:.2f}", (rpm, speed, speed - rpm, ampere, current, 100.0 * relative), "12.3f"
        )
        book.demand(f"speed at {torque} N m", speed - rpm, SPEED_RPM)
        book.demand(f"current at {torque} N m", relative, CURRENT)


def faults(book: Book, *, once: bool) -> None:
    """Compare side lines and speed ripple: printed, time domain, harmonic solution."""
    from physics.test_simulation_faults import LINES, QUICK, TABLE
    from support.r3k import FAULTS, R3k
    from support.slip_locked import SlipLockedLines

    names = [*(f"{h}f{2 * k:+d}sf" for h, k in LINES), "ripple %"]
    book.head("Lines of a damaged cage, dBc: printed / time domain / harmonic solution", "", *names)
    for n, (fault, torque, inertia, levels, ripple) in enumerate(TABLE):
        if once and n not in QUICK:
            continue
        run = R3k(
            fault=fault, load_torque_nm=torque, inertia_factor=inertia, duration_s=8.0,
            sampling_rate_hz=2500.0,
        )  # fmt: skip
        lines = SlipLockedLines(run.recording())
        stepped = [lines.level_dbc(*line) for line in LINES]
        swing = _speed_ripple_percent(run.setup(), run.recording().truth["pole_pass_frequency_hz"])
        solved, solved_swing = _harmonic_levels(FAULTS[fault], torque, inertia)
        title = f"{fault}, {torque:g} N m, J x{inertia}"
        print(title)
        book.row("printed", (*levels, ripple), "12.3f")
        book.row("time", (*stepped, swing), "12.3f")
        book.row("harmonic", (*solved, solved_swing), "12.3f")
        # half the last printed digit, and 1 %
        book.demand(f"{title}, ripple", swing - ripple, 0.0005 + 0.01 * ripple)
        book.demand(f"{title}, ripple, harmonic", solved_swing - swing, 0.0005 + 0.01 * ripple)
        for (h, k), printed, time, harmonic in zip(LINES, levels, stepped, solved, strict=True):
            most = FUNDAMENTAL_DB if h == 1 else HARMONIC_DB
            where = f"{title}, line ({h} {2 * k:+d}s) f"
            if not math.isnan(printed):
                # and 0.05 dB for the printed digit
                book.demand(f"{where}, time against printed", time - printed, most + 0.05)
                book.demand(f"{where}, harmonic against time", harmonic - time, TWIN_DB)


def _speed_ripple_percent(setup: Setup, pole_pass_hz: float) -> float:
    """Return the peak of the speed's line at twice the slip frequency, of the mean speed."""
    path = trajectory(setup, duration_s=4.0, sampling_rate_hz=1250.0, settling_s=3.0)
    speed = path.speed_rad_s[GUARD_SAMPLES:-GUARD_SAMPLES]
    weight = np.hanning(speed.size)
    turn = np.exp(-2j * np.pi * pole_pass_hz * np.arange(speed.size) / 1250.0)
    mean = float(np.average(speed, weights=weight))
    return 200.0 * float(abs(np.average((speed - mean) * turn, weights=weight))) / mean


def _harmonic_levels(
    damage: Damage, torque_nm: float, inertia_factor: float
) -> tuple[list[float], float]:
    """Return lines and speed ripple by the harmonic solution at the same torque."""
    from cagewise.machine.cage.balance import OperatingCondition
    from cagewise.machine.cage.clocks import FULL
    from cagewise.machine.cage.damage import Damage as CageDamage
    from cagewise.machine.cage.loading import slip_at_torque
    from cagewise.machine.cage.solution import (
        FIFTH_FOUR,
        FIFTH_SIX,
        LOWER,
        SEVENTH_EIGHT,
        SEVENTH_SIX,
        UPPER,
        solve_cage,
    )
    from support.cage_models import reference_cage

    condition = OperatingCondition(
        slip=np.array(0.04),
        frequency_rad_s=100.0 * math.pi,
        voltage_v=SETUP.supply.phase_voltage_peak_v,
        inertia_kg_m2=np.array(SETUP.geometry.inertia_kg_m2 * inertia_factor),
    )
    broken = (
        CageDamage.cracked(dict(damage.resistance_factors))
        if damage.resistance_factors
        else CageDamage.open_bars(damage.open_bars)
    )
    cage = reference_cage()
    slip = slip_at_torque(cage, broken, torque_nm, condition, FULL)
    solution = solve_cage(cage, broken, replace(condition, slip=slip), FULL)
    lines = (LOWER, UPPER, FIFTH_FOUR, FIFTH_SIX, SEVENTH_SIX, SEVENTH_EIGHT)
    levels = [decibel(float(np.abs(solution.relative(line)[0]))) for line in lines]
    swing = 2.0 * float(np.abs(solution.angle_ripple[0])) * 2.0 * float(slip[0])
    return levels, 100.0 * swing / (1.0 - float(slip[0]))


def standstill(book: Book, *, once: bool) -> None:
    """Compare the impedance of terminals a-b against rotor position, and too few positions."""
    from physics.test_simulation_standstill import TABLE
    from support.r3k import FAULTS

    columns = ("mean L +%", "p-p L %", "2nd %", "4th %", "p-p R %", "p-p |Z| %")
    book.head("Standing rotor, 50 Hz: printed / computed", "", *columns)
    sound = _standstill_row(Damage(), None)
    for fault, printed in TABLE.items():
        if once and fault not in ("healthy", "1 bar"):
            continue
        found = _standstill_row(FAULTS[fault], sound[-1])[:-1]
        print(fault)
        book.row("printed", printed, "12.2f")
        book.row("computed", found, "12.2f")
        for column, reference, value in zip(columns, printed, found, strict=True):
            book.demand(f"standing {fault}, {column}", value - reference, 0.06 + 0.01 * reference)
    book.head("Sound rotor at N positions: false 2nd, 4th order %", "N", "2nd", "4th", "2nd", "4th")
    for count, *printed_orders in FALSE_ORDERS[::4] if once else FALSE_ORDERS:
        z = standstill_impedance(SETUP, positions(2, count), 50.0).inductance_h
        found_orders = 100.0 * position_orders(z, (2, 4)) / float(np.mean(z))
        book.row(str(count), (*printed_orders, *found_orders), "12.3f")
        for reference, value in zip(printed_orders, found_orders, strict=True):
            book.demand(f"{count} positions", float(value) - reference, 0.0055)


def _standstill_row(damage: Damage, sound_h: float | None) -> tuple[float, ...]:
    """Return the columns of the table, and the mean inductance last."""
    z = standstill_impedance(replace(SETUP, damage=damage), positions(2, 96), 50.0)
    inductance = z.inductance_h
    mean = float(np.mean(inductance))
    second, fourth = 100.0 * position_orders(inductance, (2, 4)) / mean

    def swing(values: RealArray) -> float:
        return 100.0 * float(np.ptp(values) / np.mean(values))

    return (
        100.0 * (mean / (sound_h or mean) - 1.0),
        swing(inductance),
        float(second),
        float(fourth),
        swing(z.resistance_ohm),
        swing(np.abs(z.impedance_ohm)),
        mean,
    )


def witness(book: Book) -> None:
    """Compare a direct start with the independent drive simulator, sample by sample."""
    from physics.test_witness_drive import DEMANDED, difference, started
    from physics.test_witness_drive import witness as other

    theirs, path = other(0.5), started(0.5)
    inner = slice(GUARD_SAMPLES, -GUARD_SAMPLES)
    pairs = {
        "current": (path.currents_a[0, inner], theirs.current_a),
        "speed": (path.speed_rad_s[inner], theirs.speed_rad_s),
        "torque": (path.torque_nm[inner], theirs.torque_nm),
    }
    book.head("Start from rest by an independent drive simulator", "", "difference", "allowed")
    for name, (ours, reference) in pairs.items():
        relative = difference(ours, reference)
        book.row(name, (relative, DEMANDED), "12.1e")
        book.demand(f"drive simulator, {name}", relative, DEMANDED)


def main() -> None:
    """Print all tables and fail if a difference is larger than demanded."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--once", action="store_true", help="a few rows of every table")
    once = parser.parse_args().once
    sys.path.insert(0, str(TESTS))
    book = Book()
    inductances(book)
    steady(book, once=once)
    faults(book, once=once)
    standstill(book, once=once)
    witness(book)
    print(f"\n{len(book.faults)} differences larger than demanded")
    assert not book.faults, "\n".join(book.faults)


if __name__ == "__main__":
    main()
