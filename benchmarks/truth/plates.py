"""Invented motors of 2 to 8 poles and 3 kW to 2 MW, in two halves that share none."""

from __future__ import annotations

from dataclasses import dataclass

from cagewise.machine.motor import Cage, Motor
from cagewise.machine.nameplate import Nameplate


@dataclass(frozen=True, slots=True)
class Plate:
    """Nameplate and cage of one motor."""

    power_w: float
    voltage_v: float
    frequency_hz: float
    speed_rpm: float
    current_a: float
    poles: int
    bars: int
    stator_slots: int
    construction: str

    @property
    def slot_lines_hz(self) -> float:
        """Highest of the principal slot lines at no load."""
        return (2 * self.bars / self.poles + 1.0) * self.frequency_hz

    def motor(self, tag: str, *, bars_known: bool) -> Motor:
        """Return the motor file of an engineer, who may not know the cage."""
        plate = Nameplate(
            rated_power_w=self.power_w,
            rated_voltage_v=self.voltage_v,
            rated_frequency_hz=self.frequency_hz,
            rated_speed_rpm=self.speed_rpm,
            rated_current_a=self.current_a,
            poles=self.poles,
        )
        known = Cage(
            rotor_bars=self.bars, stator_slots=self.stator_slots, construction=self.construction
        )
        return Motor(tag=tag, nameplate=plate, cage=known if bars_known else Cage())


REFERENCE = "3 kW 4p"
"""The reference machine, whose every dimension is published; all others are made for a plate."""

PLATES: tuple[dict[str, Plate], dict[str, Plate]] = (
    {
        REFERENCE: Plate(3e3, 380.0, 50.0, 1420.0, 6.7, 4, 32, 36, "cast"),
        "11 kW 2p": Plate(11e3, 400.0, 50.0, 2940.0, 20.3, 2, 28, 36, "cast"),
        "22 kW 6p": Plate(22e3, 400.0, 50.0, 975.0, 43.5, 6, 48, 54, "cast"),
        "45 kW 8p": Plate(45e3, 400.0, 50.0, 738.0, 88.0, 8, 58, 72, "cast"),
        "75 kW 4p": Plate(75e3, 460.0, 60.0, 1777.0, 116.0, 4, 40, 48, "cast"),
        "160 kW 2p": Plate(160e3, 400.0, 50.0, 2979.0, 270.0, 2, 40, 48, "cast"),
        "315 kW 4p": Plate(315e3, 690.0, 50.0, 1488.0, 318.0, 4, 58, 60, "cast"),
        "400 kW 6p": Plate(400e3, 4160.0, 60.0, 1188.0, 70.0, 6, 54, 72, "fabricated"),
        "630 kW 8p": Plate(630e3, 6000.0, 50.0, 743.0, 78.0, 8, 88, 96, "fabricated"),
        "1100 kW 2p": Plate(1100e3, 6000.0, 50.0, 2982.0, 123.0, 2, 46, 60, "fabricated"),
        "2000 kW 4p": Plate(2000e3, 10000.0, 50.0, 1491.0, 135.0, 4, 72, 84, "fabricated"),
    },
    {
        "5.5 kW 4p": Plate(5.5e3, 400.0, 50.0, 1455.0, 11.2, 4, 28, 36, "cast"),
        "7.5 kW 2p": Plate(7.5e3, 400.0, 50.0, 2925.0, 14.2, 2, 30, 36, "cast"),
        "15 kW 6p": Plate(15e3, 400.0, 50.0, 970.0, 30.5, 6, 46, 54, "cast"),
        "30 kW 8p": Plate(30e3, 400.0, 50.0, 735.0, 61.0, 8, 56, 72, "cast"),
        "55 kW 4p": Plate(55e3, 400.0, 50.0, 1480.0, 97.0, 4, 44, 60, "cast"),
        "132 kW 2p": Plate(132e3, 460.0, 60.0, 3572.0, 196.0, 2, 38, 48, "cast"),
        "250 kW 4p": Plate(250e3, 690.0, 50.0, 1486.0, 254.0, 4, 50, 60, "cast"),
        "355 kW 6p": Plate(355e3, 690.0, 50.0, 992.0, 372.0, 6, 66, 72, "cast"),
        "500 kW 8p": Plate(500e3, 6600.0, 60.0, 893.0, 57.0, 8, 88, 96, "fabricated"),
        "800 kW 4p": Plate(800e3, 6600.0, 50.0, 1489.0, 83.0, 4, 44, 60, "fabricated"),
        "1400 kW 2p": Plate(1400e3, 6600.0, 50.0, 2985.0, 142.0, 2, 50, 60, "fabricated"),
    },
)
"""The motors of half 0 and half 1. Invented. All but two in each half have an even number of bars
per pole pair, without which the windings here show no rotor-slot lines."""
