"""What the headings and units of a test sheet are called on its page."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

UNIT_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "ohm": "Ω",
        "microohm": "µΩ",
        "milliohm": "mΩ",
        "kiloohm": "kΩ",
        "megaohm": "MΩ",
        "gigaohm": "GΩ",
        "teraohm": "TΩ",
        "h": "H",
        "mh": "mH",
        "uh": "µH",
        "f": "F",
        "uf": "µF",
        "nf": "nF",
        "pf": "pF",
        "a": "A",
        "ma": "mA",
        "ua": "µA",
        "na": "nA",
        "v": "V",
        "kv": "kV",
        "s": "s",
        "min": "min",
        "ms": "ms",
        "us": "µs",
        "hz": "Hz",
        "khz": "kHz",
        "rad": "rad",
        "deg": "°",
        "per_unit": "per unit",
        "percent": "%",
        "degc": "°C",
        "degf": "°F",
    }
)
QUANTITY_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "measured_on": "Measured on",
        "measured_at": "Where the leads were",
        "rotor_demagnetised": "Rotor demagnetised before",
        "relative_humidity": "Relative humidity",
        "tested": "What was tested",
        "step": "Time at each step",
        "shaft_angle": "Angle",
        "dissipation_factor": "Tan delta",
    }
)
READS_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "lr": "inductance and resistance",
        "z": "impedance only",
        "vi": "voltage and current",
    }
)
DIMENSIONLESS = "no unit"


def words_of(quantity: str, pair: str = "") -> str:
    """Return what a heading is called, with the terminals it is between."""
    text = quantity.replace("_", " ")
    text = QUANTITY_WORDS.get(quantity, text[:1].upper() + text[1:])
    return f"{text} {pair[0]}-{pair[1]}" if pair else text
