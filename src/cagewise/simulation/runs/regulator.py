"""Vector control in the loop: a sampled regulator that sets the voltage of the machine.

Rotor-flux orientation by measured speed and the slip relation, in the inverse-gamma form::

    d psi/dt = R_R i_d - (R_R / L_M) psi        d rho/dt = p w + R_R i_q / psi
    T* = J (a_s e + a_s^2/4 int e)              i_q* = T* / (1.5 p psi)
    u = a_c L_s (i* - i) + I + (j w_s L_s - R_a) i     dI/dt = a_c^2 L_s (i* - i)

with ``L_s`` here the transient inductance and ``R_a = a_c L_s - R`` an active resistance. The
voltage found in one period acts throughout the next. ``docs/theory/simulation-supply.md``.
"""

from __future__ import annotations

import math
from copy import copy
from dataclasses import replace

import numpy as np

from cagewise.quantities import RealArray
from cagewise.simulation.equations.model import CoupledModel
from cagewise.simulation.machine.two_axis import TwoAxisMachine, two_axis_machine
from cagewise.simulation.plant.converter import VectorControl
from cagewise.simulation.runs.attachment import Chain, Link
from cagewise.simulation.runs.course import Setup, Trajectory, phases
from cagewise.simulation.stepping.engine import POWER_INVARIANT
from cagewise.simulation.stepping.runge_kutta import N_OBSERVED, Advance


class Pilot:
    """State and law of the regulator; space vectors amplitude-invariant, peak."""

    def __init__(
        self, control: VectorControl, machine: TwoAxisMachine, pole_pairs: int, voltage_v: complex
    ) -> None:
        self._control, self._machine, self._pole_pairs = control, machine, pole_pairs
        self._limit_v = control.voltage_margin * abs(voltage_v)
        self.voltage_v = voltage_v
        """Voltage in force, stator axes."""
        self._next_v = voltage_v
        self.period_s = self.elapsed_s = control.period_s
        """Sampling period, and time since the last sample."""
        self.angle_rad, self.turning_rad_s = 0.0, 0.0
        """Angle of the flux at the last sample, and its speed."""
        self._flux_vs, self._reference_a = 0.0, 0.0
        self._speed_reference_rad_s = 0.0
        self._torque_nm, self._integral_v = 0.0, 0j

    @property
    def has_begun(self) -> bool:
        """Whether the regulator has seen the machine."""
        return self._flux_vs > 0.0

    def begin(self, current_a: complex, speed_rad_s: float, frequency_rad_s: float) -> None:
        """Take over a machine in steady state without a jump."""
        m = self._machine
        drop = m.stator_resistance_ohm * current_a
        flux = (self.voltage_v - drop) / (1j * frequency_rad_s)
        flux -= m.transient_inductance_h * current_a
        angle = float(np.angle(flux))
        self._flux_vs, self.turning_rad_s = abs(flux), frequency_rad_s
        self.angle_rad = angle - self.period_s * frequency_rad_s
        turned = current_a * np.exp(-1j * angle)
        self._reference_a = self._flux_vs / m.flux_inductance_h
        self._torque_nm = 1.5 * self._pole_pairs * self._flux_vs * turned.imag
        self._integral_v = self.voltage_v * np.exp(-1j * angle) - self._decoupling(turned)
        rpm = self._control.speed_rpm
        self._speed_reference_rad_s = speed_rad_s if rpm is None else rpm * math.pi / 30.0

    def _decoupling(self, current_a: complex) -> complex:
        """Return ``(j w_s L - R_a) i``."""
        m = self._machine
        inductance = m.transient_inductance_h
        active = 2.0 * math.pi * self._control.current_bandwidth_hz * inductance
        active -= m.stator_resistance_ohm + m.flux_resistance_ohm
        return (1j * self.turning_rad_s * inductance - active) * current_a

    def sample(self, current_a: complex, speed_rad_s: float, inertia_kg_m2: float) -> None:
        """Measure, and find the voltage of the next period."""
        m, period_s = self._machine, self.period_s
        self.angle_rad += period_s * self.turning_rad_s
        turned = current_a * np.exp(-1j * self.angle_rad)
        bandwidth = 2.0 * math.pi * self._control.current_bandwidth_hz
        gain = bandwidth * m.transient_inductance_h
        error = self._wanted_current(speed_rad_s, inertia_kg_m2) - turned
        free = gain * error + self._integral_v + self._decoupling(turned)
        given = free * min(1.0, self._limit_v / max(abs(free), 1e-9))
        self._integral_v += period_s * bandwidth * (gain * error + given - free)
        slip_rad_s = m.flux_resistance_ohm * turned.imag / self._flux_vs
        self.turning_rad_s = self._pole_pairs * speed_rad_s + slip_rad_s
        decay = m.flux_resistance_ohm / m.flux_inductance_h
        self._flux_vs += period_s * (m.flux_resistance_ohm * turned.real - decay * self._flux_vs)
        ahead = self.angle_rad + 1.5 * period_s * self.turning_rad_s
        self._next_v = complex(given * np.exp(1j * ahead))

    def _wanted_current(self, speed_rad_s: float, inertia_kg_m2: float) -> complex:
        """Return the reference in the axes of the flux."""
        bandwidth = 2.0 * math.pi * self._control.speed_bandwidth_hz
        error = self._speed_reference_rad_s - speed_rad_s
        self._torque_nm += self.period_s * 0.25 * bandwidth**2 * inertia_kg_m2 * error
        torque = self._torque_nm + bandwidth * inertia_kg_m2 * error
        return complex(self._reference_a, torque / (1.5 * self._pole_pairs * self._flux_vs))

    def is_due(self, step_s: float) -> bool:
        """Return whether the next step begins a period."""
        return self.elapsed_s > self.period_s - 0.5 * step_s

    def turn_over(self) -> None:
        """Begin a period with the voltage that was found in the last one."""
        self.voltage_v, self.elapsed_s = self._next_v, 0.0


class Regulator:
    """A stepper whose voltages come from a :class:`Pilot` instead of the drive."""

    def __init__(self, inner: Advance, setup: Setup, control: VectorControl) -> None:
        self._inner, self._control = inner, control
        self._frequency_rad_s = 2.0 * math.pi * setup.supply.frequency_hz
        self._machine = two_axis_machine(setup.geometry)
        self._pole_pairs = setup.geometry.pole_pairs
        self._chain: Chain[Pilot] = Chain()

    def __call__(
        self,
        model: CoupledModel,
        drive: RealArray,
        step_s: float,
        state: RealArray,
        out: RealArray,
    ) -> None:
        """Advance period by period; the drive gives the load torque only."""
        pilot = self._chain.resume(state) or self._new_pilot(drive, step_s)
        before, start = copy(pilot), state.copy()
        n_steps = (drive.shape[0] - 1) // 2
        rows = np.empty((n_steps, N_OBSERVED))
        seen = np.empty((2, n_steps), dtype=np.complex128)
        done = 0
        while done < n_steps:
            due = pilot.is_due(step_s)
            if due:
                pilot.turn_over()
            left = max(1, round((pilot.period_s - pilot.elapsed_s) / step_s))
            here = slice(done, min(n_steps, done + left))
            part = _with_voltage(drive[2 * here.start : 2 * here.stop + 1], pilot.voltage_v)
            self._inner(model, part, step_s, state, rows[here])
            if due:
                self._measure(pilot, rows[done], model.inertia_kg_m2 + model.load_inertia_kg_m2)
            elapsed = pilot.elapsed_s + step_s * np.arange(here.stop - here.start)
            seen[0, here] = pilot.voltage_v
            seen[1, here] = pilot.angle_rad + pilot.turning_rad_s * elapsed
            pilot.elapsed_s += step_s * (here.stop - here.start)
            done = here.stop
        every = n_steps // out.shape[0]
        out[:] = rows[::every]
        self._chain.add(state, Link(start, state.copy(), before, pilot, seen[:, ::every]))

    def _new_pilot(self, drive: RealArray, step_s: float) -> Pilot:
        """Return the pilot at the first step, from the voltage at that instant."""
        first = complex(drive[0, 0], drive[0, 1]) / POWER_INVARIANT
        pilot = Pilot(self._control, self._machine, self._pole_pairs, first)
        pilot.period_s = max(1, round(self._control.period_s / step_s)) * step_s
        pilot.elapsed_s = pilot.period_s
        return pilot

    def _measure(self, pilot: Pilot, row: RealArray, inertia_kg_m2: float) -> None:
        """Show the pilot what is measured at the beginning of its period."""
        current = complex(row[0], row[1]) / POWER_INVARIANT
        if not pilot.has_begun:
            pilot.begin(current, float(row[3]), self._frequency_rad_s)
        pilot.sample(current, float(row[3]), inertia_kg_m2)

    def at_terminals(self, path: Trajectory) -> Trajectory:
        """Return the course with the voltages that the regulator set, and their phase."""
        voltage, angle = self._chain.last(path.time_s.size)
        return replace(path, voltages_v=phases(voltage), supply_phase_rad=angle.real)


def _with_voltage(drive: RealArray, voltage_v: complex) -> RealArray:
    """Return the drive with one voltage throughout."""
    part = np.array(drive)
    part[:, 0] = POWER_INVARIANT * voltage_v.real
    part[:, 1] = POWER_INVARIANT * voltage_v.imag
    return part
