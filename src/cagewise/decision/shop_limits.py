"""Limits that a repair shop is given; values with unit, range, source and how it was had.

The values in force stand in the one data file of the decision layer, under the same names. Limits
of winding and insulation tests are not here: they are those of the examination.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopLimits:
    """What a motor has to keep in the shop, before and after its repair."""

    single_phase_voltage: tuple[float, float] = (0.10, 0.25)
    """Test voltage of the single-phase rotation test (1 of rated), 0.02 to 0.5: 10 % (one author)
    and 25 % (another), secondary."""
    single_phase_variation: tuple[float, float] = (0.03, 0.10)
    """Largest less smallest current over their mean while the rotor is turned (1), 0.01 to 0.3: a
    test-laboratory note takes 3 % for a possible sign (read), a trade tip 5 to 10 % (secondary).
    They conflict: guidance, no limit."""
    shaft_runout_mm: float = 0.076
    """Total reading at the shaft extension (mm), 0.02 to 0.2: NEMA MG 1-4.9, from memory: 0.003
    inch for extensions above 1.625 to 6.5 inch; 0.002 inch below."""
    air_gap_deviation: float = 0.10
    """Largest deviation of the air gap from its mean (1), 0.05 to 0.3: API 541, from memory."""
    core_test_flux_t: float = 1.32
    """Peak flux density of the core loss test (T), 0.8 to 1.6: 85 000 lines per square inch,
    ANSI/EASA AR100 practice, from memory."""
    core_loss_rise: float = 0.20
    """Rise of the core loss from before stripping to after (1), 0.05 to 0.5: ANSI/EASA AR100
    practice, from memory."""
    core_hot_spot_k: float = 10.0
    """Hottest spot of the core above its mean in that test (K), 5 to 20: IEEE 56, from memory;
    other guides say 15."""
    burn_out_degc: float = 370.0
    """Hottest the core may become when the old winding is burnt out (degC), 300 to 400: ANSI/EASA
    AR100, from memory: 700 degF."""
    balance_grade_mm_s: float = 2.5
    """Balance quality grade of the rotor (mm/s), 0.4 to 6.3: ISO 21940-11, from memory."""
    voltage_unbalance: float = 0.01
    """Largest deviation from the mean of the line voltages of the no-load run (1), 0.005 to 0.02:
    NEMA MG 1-12.45, secondary."""
    no_load_current_unbalance: float = 0.10
    """The same of the no-load currents (1), 0.03 to 0.2: common practice, no source; a voltage
    unbalance of 1 % alone makes six to ten times as much (NEMA MG 1-14.36.5, read)."""
    housing_vibration_free_mm_s: tuple[float, float, float] = (1.6, 2.2, 2.8)
    """Vibration at no load, freely suspended, of shaft heights 56 to 132, above 132 to 280, above
    280 mm (mm/s rms), 0.5 to 5: IEC 60034-14 grade A, secondary."""
    housing_vibration_rigid_mm_s: tuple[float, float, float] = (1.3, 1.8, 2.3)
    """The same rigidly mounted (mm/s rms), 0.5 to 5: same source."""
    running_vibration_large_mm_s: tuple[float, float] = (2.3, 3.5)
    """Zone boundary A/B above 300 kW, rigid and flexible foundation (mm/s rms), 1 to 5: ISO
    20816-3 group 1, from memory."""
    running_vibration_medium_mm_s: tuple[float, float] = (1.4, 2.3)
    """The same from 15 to 300 kW (mm/s rms), 0.5 to 5: ISO 20816-3 group 2, from memory."""
