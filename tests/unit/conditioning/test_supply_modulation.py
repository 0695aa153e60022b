"""What a modulated supply leaves in the frame of its own phase, against an integrated motor.

The motor is integrated in time (fluxes as states, fourth-order Runge-Kutta), its currents and
voltages are sampled, and the ordinary chain reads them. Nothing of the circuit module is used on
that side; the formulas of docs/theory/voltage-frame.md are evaluated with it on the other.
"""

from __future__ import annotations

import numpy as np
import pytest

from cagewise.conditioning import StatorSignals, supply_frame
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.measurement import (
    CURRENT_ROLES,
    LINE_VOLTAGE_ROLES,
    Channel,
    Provenance,
    Recording,
)
from cagewise.quantities import ComplexArray, RealArray

W = 2.0 * np.pi * 50.0
R_S, R_R, L_S, L_R, L_M = 2.2, 1.6555, 0.17832, 0.17958, 0.17140
SLIP = 0.0453
V_0 = 310.0
RATE_HZ = 2000.0
DURATION_S = 14.0
SKIPPED_S = 2.0
"""The slowest transient of this motor dies with a time constant of about 0.1 s."""


def modulation(nu: float, depth: float, angle: float) -> tuple[float, float, float]:
    return 2.0 * np.pi * nu, depth, angle


def integrated(
    amplitude: tuple[float, float, float], phase: tuple[float, float, float]
) -> tuple[ComplexArray, ComplexArray]:
    """Return voltage and current space vectors (stationary frame) of the motor at fixed slip."""
    n = round((DURATION_S + SKIPPED_S) * RATE_HZ)
    step = 1.0 / RATE_HZ
    sigma = L_S * L_R - L_M**2

    def voltage(t: float) -> complex:
        a = 1.0 + amplitude[1] * np.cos(amplitude[0] * t + amplitude[2])
        d = phase[1] * np.cos(phase[0] * t + phase[2])
        return complex(V_0 * a * np.exp(1j * d))

    def slope(t: float, psi_s: complex, psi_r: complex) -> tuple[complex, complex]:
        i_s = (L_R * psi_s - L_M * psi_r) / sigma
        i_r = (L_S * psi_r - L_M * psi_s) / sigma
        return (
            voltage(t) - R_S * i_s - 1j * W * psi_s,
            -R_R * i_r - 1j * SLIP * W * psi_r,
        )

    psi = np.array([0j, 0j])
    current = np.empty(n, dtype=np.complex128)
    for k in range(n):
        t = k * step
        current[k] = (L_R * psi[0] - L_M * psi[1]) / sigma
        k1 = np.array(slope(t, psi[0], psi[1]))
        k2 = np.array(slope(t + step / 2, *(psi + step / 2 * k1)))
        k3 = np.array(slope(t + step / 2, *(psi + step / 2 * k2)))
        k4 = np.array(slope(t + step, *(psi + step * k3)))
        psi = psi + step / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4)
    time_s = np.arange(n) * step
    turn = np.exp(1j * W * time_s)
    vectors = np.array([voltage(t) for t in time_s])
    kept = slice(round(SKIPPED_S * RATE_HZ), None)
    return (vectors * turn)[kept], (current * turn)[kept]


def recorded(voltage: ComplexArray, current: ComplexArray) -> Recording:
    channels = []
    phases = [np.real(voltage * np.exp(-2j * np.pi * k / 3.0)) for k in range(3)]
    for k in range(3):
        i_k = np.real(current * np.exp(-2j * np.pi * k / 3.0))
        v_k = phases[k] - phases[(k + 1) % 3]
        channels.append(Channel(name=f"i{k}", raw=i_k, role=CURRENT_ROLES[k]))
        channels.append(Channel(name=f"v{k}", raw=v_k, role=LINE_VOLTAGE_ROLES[k]))
    return Recording(
        channels=tuple(channels),
        sampling_rate_hz=RATE_HZ,
        provenance=Provenance(source="integrated", format_name="synthetic"),
    )


def line(samples: ComplexArray, time_s: RealArray, nu_hz: float) -> complex:
    """Return the phasor at ``nu_hz`` beside a constant and its mirror line."""
    basis = np.exp(2j * np.pi * np.outer(time_s, [0.0, nu_hz, -nu_hz]))
    window = np.kaiser(time_s.size, 10.0)
    weights = np.linalg.lstsq(basis * window[:, None], samples * window, rcond=None)[0]
    return complex(weights[1])


@pytest.mark.parametrize(
    ("nu_hz", "depth", "deviation"),
    [(2.0, 1e-3, 0.0), (2.0, 0.0, 1e-3), (0.5, 1e-3, 2e-3), (4.53, 1e-3, 2e-3)],
    ids=["AM", "PM", "both, slow", "both, at the pole-pass frequency"],
)
def test_side_lines_of_a_modulated_supply(nu_hz: float, depth: float, deviation: float) -> None:
    """In the frame: Y(j nu) V_am + j delta (Y(j nu) V0 - I0); fixed frame: Y(j nu) V(nu)."""
    am, pm = modulation(nu_hz, depth, 0.3), modulation(nu_hz, deviation, -1.1)
    voltage, current = integrated(am, pm)
    frame = supply_frame(StatorSignals.from_recording(recorded(voltage, current)), 50.0)
    state = EquivalentCircuit.from_values(
        stator_resistance_ohm=R_S,
        rotor_resistance_ohm=R_R,
        stator_leakage_h=L_S - L_M,
        rotor_leakage_h=L_R - L_M,
        magnetizing_inductance_h=L_M,
    ).at(SLIP, W)
    i_0 = complex(state.stator_current(V_0))
    scale = max(depth, deviation) * abs(i_0)
    for sign in (1.0, -1.0):
        nu = sign * 2.0 * np.pi * nu_hz
        # two-sided phasors of a(t) and delta(t), referred to the start of the kept record
        start = SKIPPED_S * abs(nu)
        v_am = V_0 * depth / 2.0 * np.exp(1j * sign * (am[2] + start))
        delta = deviation / 2.0 * np.exp(1j * sign * (pm[2] + start))
        y = complex(state.voltage_response(1j * nu))
        expected = y * v_am + 1j * delta * (y * V_0 - i_0)
        found = line(frame.current, frame.time_s, sign * nu_hz)
        # second order in the modulation is 2e-3 of the first
        assert abs(found - expected) < 3e-3 * scale
        fixed = current * np.exp(-1j * W * (np.arange(current.size) / RATE_HZ + SKIPPED_S))
        time_s = np.arange(current.size) / RATE_HZ
        in_fixed = line(fixed, time_s, sign * nu_hz)
        assert abs(in_fixed - y * (v_am + 1j * V_0 * delta)) < 3e-3 * scale


def test_slow_wander_leaves_nothing_in_the_frame() -> None:
    """Y(0) V0 = I0: phase motion slow against the machine drops out to first order."""
    nu_hz, deviation = 0.05, 0.02
    voltage, current = integrated(modulation(nu_hz, 0.0, 0.0), modulation(nu_hz, deviation, 0.0))
    frame = supply_frame(StatorSignals.from_recording(recorded(voltage, current)), 50.0)
    ripple = np.abs(frame.current / frame.current.mean() - 1.0)
    inner = ripple[80:-80]
    # j delta (Y(j nu) V0 - I0) / I0 is about delta nu T with T near 5 ms at this slip
    assert inner.max() < 0.02 * deviation
    assert inner.max() > 1e-6
