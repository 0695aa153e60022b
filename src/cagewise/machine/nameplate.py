"""The nameplate and what follows from it by arithmetic."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from cagewise.quantities import synchronous_speed_rpm


class Starting(StrEnum):
    """How the motor is started."""

    DIRECT = "direct"
    SOFT_STARTER = "soft starter"
    CONVERTER = "converter"


@dataclass(frozen=True, slots=True, kw_only=True)
class Nameplate:
    """Rated values of a three-phase squirrel-cage induction motor."""

    rated_power_w: float
    """Shaft output."""
    rated_voltage_v: float
    """Line-line, rms."""
    rated_frequency_hz: float
    rated_speed_rpm: float
    rated_current_a: float
    """Line, rms."""
    poles: int
    power_factor: float | None = None
    efficiency: float | None = None
    """Per unit."""
    connection: str | None = None
    """``"wye"`` or ``"delta"``."""
    design_letter: str | None = None
    code_letter: str | None = None
    service_factor: float | None = None
    thermal_class: str | None = None
    starting: Starting = Starting.DIRECT
    locked_rotor_time_hot_s: float | None = None
    """Permissible time with locked rotor at rated voltage, from operating temperature."""
    locked_rotor_time_cold_s: float | None = None
    """The same from ambient temperature."""

    @property
    def pole_pairs(self) -> int:
        """Number of pole pairs, p."""
        return self.poles // 2

    @property
    def synchronous_speed_rpm(self) -> float:
        """Synchronous speed at rated frequency."""
        return synchronous_speed_rpm(self.rated_frequency_hz, self.pole_pairs)

    @property
    def rated_slip(self) -> float:
        """Slip at rated load, per unit of synchronous speed."""
        return 1.0 - self.rated_speed_rpm / self.synchronous_speed_rpm

    @property
    def rated_torque_nm(self) -> float:
        """Shaft torque at rated load."""
        return self.rated_power_w / (2.0 * math.pi * self.rated_speed_rpm / 60.0)

    @property
    def rated_apparent_power_va(self) -> float:
        """Apparent power at rated load."""
        return math.sqrt(3.0) * self.rated_voltage_v * self.rated_current_a

    @property
    def power_to_apparent_ratio(self) -> float:
        """P / (sqrt3 V I): efficiency times power factor at rated load."""
        return self.rated_power_w / self.rated_apparent_power_va

    @property
    def rated_phase_voltage_v(self) -> float:
        """Phase-to-neutral voltage, rms."""
        return self.rated_voltage_v / math.sqrt(3.0)

    @property
    def rated_phase_voltage_peak_v(self) -> float:
        """Peak phase-to-neutral voltage, the modulus of the rated voltage space vector."""
        return self.rated_voltage_v * math.sqrt(2.0 / 3.0)
