"""The single-cage equivalent circuit, steady and under small perturbations.

Equations (synchronous frame turning at ``w``, peak-valued space vectors, rotor referred to the
stator; ``P`` is the complex frequency of a perturbation seen in that frame)::

    v_s = R_s i_s + (P + j w)   (L_s i_s + L_m i_r)
    0   = R_r i_r + (P + j s w) (L_m i_s + L_r i_r)

    D(P) = (R_s + (P + j w) L_s)(R_r + (P + j s w) L_r) - (P + j w)(P + j s w) L_m^2
    Y(P) = (R_r + (P + j s w) L_r) / D(P)      current per volt of voltage perturbation
    G(P) = -(P + j w) L_m / D(P)               current per j psi_r0 of speed perturbation

The derivation is in ``docs/theory/direct-component.md``. Core loss is left out: it moves the
active current at no load and none of the perturbation ratios used here.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Self

import numpy as np

from cagewise.quantities import ComplexArray, RealArray


@dataclass(frozen=True, slots=True, kw_only=True)
class EquivalentCircuit:
    """Per-phase star-equivalent parameters of a single-cage motor, rotor referred to the stator.

    Every field is a float64 array of shape () for one circuit, or (n_draws,) for an ensemble that
    expresses uncertainty; all methods return arrays of that shape.
    """

    stator_resistance_ohm: RealArray
    """R_s."""
    rotor_resistance_ohm: RealArray
    """R_r, referred, at running temperature."""
    stator_leakage_h: RealArray
    """L_sl = L_s - L_m."""
    rotor_leakage_h: RealArray
    """L_rl = L_r - L_m, referred."""
    magnetizing_inductance_h: RealArray
    """L_m."""

    @classmethod
    def from_values(
        cls,
        *,
        stator_resistance_ohm: float,
        rotor_resistance_ohm: float,
        stator_leakage_h: float,
        rotor_leakage_h: float,
        magnetizing_inductance_h: float,
    ) -> Self:
        """Return one circuit of known values."""
        return cls(
            stator_resistance_ohm=np.asarray(stator_resistance_ohm, dtype=np.float64),
            rotor_resistance_ohm=np.asarray(rotor_resistance_ohm, dtype=np.float64),
            stator_leakage_h=np.asarray(stator_leakage_h, dtype=np.float64),
            rotor_leakage_h=np.asarray(rotor_leakage_h, dtype=np.float64),
            magnetizing_inductance_h=np.asarray(magnetizing_inductance_h, dtype=np.float64),
        )

    @property
    def stator_inductance_h(self) -> RealArray:
        """L_s."""
        return self.stator_leakage_h + self.magnetizing_inductance_h

    @property
    def rotor_inductance_h(self) -> RealArray:
        """L_r, referred."""
        return self.rotor_leakage_h + self.magnetizing_inductance_h

    def median(self) -> EquivalentCircuit:
        """Return the circuit of the median parameters."""
        return EquivalentCircuit(
            **{f.name: np.asarray(np.median(getattr(self, f.name))) for f in fields(self)}
        )

    def at(self, slip: RealArray | float, frequency_rad_s: RealArray | float) -> OperatingState:
        """Return the linearised motor at ``slip`` and supply ``frequency_rad_s`` (2 pi f)."""
        return OperatingState(
            circuit=self,
            slip=np.asarray(slip, dtype=np.float64),
            frequency_rad_s=np.asarray(frequency_rad_s, dtype=np.float64),
        )


@dataclass(frozen=True, slots=True)
class OperatingState:
    """A circuit at one slip and supply frequency: steady values and perturbation responses.

    Shapes broadcast: circuit (n_draws,) with slip (n_draws,) or ().
    """

    circuit: EquivalentCircuit
    slip: RealArray
    """s, per unit."""
    frequency_rad_s: RealArray
    """w = 2 pi f of the supply."""

    def _determinant(self, perturbation: ComplexArray | complex) -> ComplexArray:
        """Return D(P)."""
        c, w, s = self.circuit, self.frequency_rad_s, self.slip
        stator = perturbation + 1j * w
        rotor = perturbation + 1j * s * w
        return np.asarray(
            (c.stator_resistance_ohm + stator * c.stator_inductance_h)
            * (c.rotor_resistance_ohm + rotor * c.rotor_inductance_h)
            - stator * rotor * c.magnetizing_inductance_h**2
        )

    def voltage_response(self, perturbation: ComplexArray | complex) -> ComplexArray:
        """Return Y(P) in siemens: stator current per volt of perturbation; Y(0) is the input's."""
        c = self.circuit
        rotor = perturbation + 1j * self.slip * self.frequency_rad_s
        numerator = c.rotor_resistance_ohm + rotor * c.rotor_inductance_h
        return np.asarray(numerator / self._determinant(perturbation))

    def speed_response(self, perturbation: ComplexArray | complex) -> ComplexArray:
        """Return G(P): stator current per ``j psi_r0`` of electrical speed perturbation."""
        c = self.circuit
        stator = perturbation + 1j * self.frequency_rad_s
        return np.asarray(-stator * c.magnetizing_inductance_h / self._determinant(perturbation))

    def stator_current(self, voltage_v: complex) -> ComplexArray:
        """Return the steady stator current (A, peak) at stator voltage ``voltage_v`` (V, peak)."""
        return np.asarray(self.voltage_response(0.0) * voltage_v)

    def rotor_current(self, stator_current_a: ComplexArray | complex) -> ComplexArray:
        """Return the steady referred rotor current (A, peak) at this stator current (A, peak)."""
        c, slip_frequency = self.circuit, self.slip * self.frequency_rad_s
        return np.asarray(
            -1j
            * slip_frequency
            * c.magnetizing_inductance_h
            * stator_current_a
            / (c.rotor_resistance_ohm + 1j * slip_frequency * c.rotor_inductance_h)
        )

    def magnetizing_current(self, stator_current_a: ComplexArray | complex) -> ComplexArray:
        """Return the current of the magnetising branch (A, peak) at this stator current."""
        return np.asarray(stator_current_a + self.rotor_current(stator_current_a))

    def rotor_flux(self, stator_current_a: ComplexArray | complex) -> ComplexArray:
        """Return psi_r0 (V s, peak) at this stator current (A, peak)."""
        c = self.circuit
        return np.asarray(
            c.magnetizing_inductance_h * stator_current_a
            + c.rotor_inductance_h * self.rotor_current(stator_current_a)
        )

    def ripple_ratio(
        self, ripple_rad_s: RealArray | float, stator_current_a: ComplexArray | complex
    ) -> ComplexArray:
        """Return rho = L / conj(U) that any speed ripple at ``ripple_rad_s`` produces.

        L and U are the lower and upper line phasors in the frame of the supply voltage.
        """
        flux = 1j * self.rotor_flux(stator_current_a)
        lower = self.speed_response(np.asarray(-1j * np.asarray(ripple_rad_s))) * flux
        upper = self.speed_response(np.asarray(1j * np.asarray(ripple_rad_s))) * flux
        return np.asarray(lower / np.conj(upper))

    def electromagnetic_torque(self, voltage_v: complex, pole_pairs: int) -> RealArray:
        """Return the air-gap torque in N m at stator voltage ``voltage_v`` (V, peak)."""
        current = self.rotor_current(self.stator_current(voltage_v))
        slip_frequency = self.slip * self.frequency_rad_s
        loss = 1.5 * np.abs(current) ** 2 * self.circuit.rotor_resistance_ohm
        return np.asarray(pole_pairs * loss / slip_frequency, dtype=np.float64)
