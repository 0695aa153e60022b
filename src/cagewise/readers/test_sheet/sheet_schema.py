"""The tables of a test sheet: which quantities each has, and what they mean."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from cagewise.measurement.test_sheet import Place

FORMAT = 1
"""Version of the form that this program writes, and the newest it reads."""

MARKER = "cagewise test sheet"
"""First cell of a sheet in columns; the version stands beside it."""

LONGEST_TEXT = 2000
"""Characters of a remark; longer ones belong into a document of their own."""


class Kind(StrEnum):
    """What a cell holds."""

    NUMBER = "number"
    TEXT = "text"
    DATE = "date"
    PLACE = "place"
    YES_NO = "yes or no"


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """One quantity of a table."""

    name: str
    """Heading without terminals and unit."""
    meaning: str
    """For whoever fills it in."""
    kind: Kind = Kind.NUMBER
    dimension: str = ""
    """Key of :data:`cagewise.readers.test_sheet.units.UNITS`; empty for what has no unit."""
    preferred: tuple[str, ...] = ()
    """Units in which it is written, the first that is exact."""
    per_pair: bool = False
    """Whether the heading begins with the two terminals: ``ab_``."""
    column: bool = False
    """Whether readings stand below the heading, or one beside it."""

    @property
    def example(self) -> str:
        """A full heading."""
        pair = "ab_" if self.per_pair else ""
        unit = f"_{self.preferred[0]}" if self.preferred else ""
        return f"{pair}{self.name}{unit}"


@dataclass(frozen=True, slots=True, kw_only=True)
class TableKind:
    """One kind of table."""

    name: str
    title: str
    """In words."""
    quantities: tuple[Quantity, ...] = ()
    repeated: bool = False
    """Whether a sheet may hold several."""
    free: bool = False
    """Whether headings are anything, each with a number beside it."""

    def quantity(self, name: str) -> Quantity:
        """Return the quantity of this name."""
        return next(q for q in self.quantities if q.name == name)


def _temperature(name: str, meaning: str) -> Quantity:
    return Quantity(name=name, meaning=meaning, dimension="temperature", preferred=("degc",))


_WINDING_TEMPERATURE = _temperature(
    "winding_temperature", "of the winding, if other than under [conditions]"
)
_TESTED = Quantity(
    name="tested",
    meaning="what was between the leads: winding to earth, or one phase with the others earthed",
    kind=Kind.TEXT,
)
_FREQUENCY = Quantity(
    name="frequency",
    meaning="of the test voltage",
    dimension="frequency",
    preferred=("hz",),
)
_VOLTAGE_UNITS = ("v",)
_OHM_UNITS = ("ohm",)

SHEET = TableKind(
    name="sheet",
    title="Head of the sheet",
    quantities=(
        Quantity(name="format", meaning="version of this form", preferred=()),
        Quantity(name="motor", meaning="tag of the motor, as in its motor file", kind=Kind.TEXT),
        Quantity(name="measured_on", meaning="date, as in 2031-05-17", kind=Kind.DATE),
        Quantity(
            name="measured_at",
            meaning=" or ".join(place.value for place in Place) + ": where the leads were",
            kind=Kind.PLACE,
        ),
        Quantity(name="remark", meaning="anything worth knowing", kind=Kind.TEXT),
    ),
)
CONDITIONS = TableKind(
    name="conditions",
    title="Conditions",
    quantities=(
        _temperature("winding_temperature", "of the winding, for every test that states no other"),
        _temperature("ambient_temperature", "of the air at the motor"),
        Quantity(
            name="relative_humidity",
            meaning="of the air at the motor",
            dimension="ratio",
            preferred=("percent",),
        ),
        Quantity(
            name="rotor_demagnetised",
            meaning="yes or no: by a falling alternating voltage, before the first reading",
            kind=Kind.YES_NO,
        ),
    ),
)
WINDING_RESISTANCE = TableKind(
    name="winding_resistance",
    title="Winding resistance",
    quantities=(
        _WINDING_TEMPERATURE,
        Quantity(
            name="resistance",
            meaning="direct-current resistance between two line terminals, four-wire",
            dimension="resistance",
            preferred=_OHM_UNITS,
            per_pair=True,
        ),
    ),
)
POSITION = TableKind(
    name="position",
    title="Inductance against shaft position",
    repeated=True,
    quantities=(
        _FREQUENCY,
        Quantity(
            name="test_current",
            meaning="rms, the level of the test; a trend needs it equal",
            dimension="current",
            preferred=("a",),
        ),
        _WINDING_TEMPERATURE,
        Quantity(
            name="shaft_angle",
            meaning="mechanical angle from any mark, positive in the direction of turning",
            dimension="angle",
            preferred=("deg",),
            column=True,
        ),
        Quantity(
            name="inductance",
            meaning="series inductance between two line terminals",
            dimension="inductance",
            preferred=("mh",),
            per_pair=True,
            column=True,
        ),
        Quantity(
            name="resistance",
            meaning="series resistance at the test frequency",
            dimension="resistance",
            preferred=_OHM_UNITS,
            per_pair=True,
            column=True,
        ),
        Quantity(
            name="impedance",
            meaning="modulus of the impedance",
            dimension="resistance",
            preferred=_OHM_UNITS,
            per_pair=True,
            column=True,
        ),
        Quantity(
            name="voltage",
            meaning="rms, beside a current: the impedance is their ratio",
            dimension="voltage",
            preferred=_VOLTAGE_UNITS,
            per_pair=True,
            column=True,
        ),
        Quantity(
            name="current",
            meaning="rms, beside a voltage",
            dimension="current",
            preferred=("a",),
            per_pair=True,
            column=True,
        ),
    ),
)
INSULATION_RESISTANCE = TableKind(
    name="insulation_resistance",
    title="Insulation resistance",
    repeated=True,
    quantities=(
        _TESTED,
        Quantity(
            name="test_voltage",
            meaning="direct voltage of the test",
            dimension="voltage",
            preferred=_VOLTAGE_UNITS,
        ),
        _WINDING_TEMPERATURE,
        Quantity(
            name="time",
            meaning="after the voltage was applied",
            dimension="time",
            preferred=("s",),
            column=True,
        ),
        Quantity(
            name="resistance",
            meaning="as shown, not corrected for temperature",
            dimension="resistance",
            preferred=("megaohm",),
            column=True,
        ),
    ),
)
STEP_VOLTAGE = TableKind(
    name="step_voltage",
    title="Step voltage",
    repeated=True,
    quantities=(
        _TESTED,
        Quantity(name="step", meaning="time at each step", dimension="time", preferred=("s",)),
        Quantity(
            name="voltage",
            meaning="direct voltage of the step",
            dimension="voltage",
            preferred=("v",),
            column=True,
        ),
        Quantity(
            name="current",
            meaning="at the end of the step",
            dimension="current",
            preferred=("ua",),
            column=True,
        ),
    ),
)
DISSIPATION = TableKind(
    name="dissipation",
    title="Dissipation factor",
    repeated=True,
    quantities=(
        _TESTED,
        _FREQUENCY,
        Quantity(
            name="voltage",
            meaning="rms, phase to earth",
            dimension="voltage",
            preferred=("v",),
            column=True,
        ),
        Quantity(
            name="dissipation_factor",
            meaning="tan delta",
            dimension="ratio",
            preferred=("percent",),
            column=True,
        ),
        Quantity(
            name="capacitance",
            meaning="to earth",
            dimension="capacitance",
            preferred=("nf",),
            column=True,
        ),
    ),
)
TURN_TEST = TableKind(
    name="turn_test",
    title="Turn insulation",
    quantities=(
        Quantity(
            name="peak_voltage",
            meaning="applied crest",
            dimension="voltage",
            preferred=_VOLTAGE_UNITS,
        ),
        Quantity(
            name="waveforms",
            meaning="name of a CSV file beside this one with the columns below",
            kind=Kind.TEXT,
        ),
        Quantity(
            name="time",
            meaning="in equal steps",
            dimension="time",
            preferred=("us",),
            column=True,
        ),
        Quantity(
            name="voltage",
            meaning="at the pair of terminals",
            dimension="voltage",
            preferred=_VOLTAGE_UNITS,
            per_pair=True,
            column=True,
        ),
    ),
)
TRUTH = TableKind(name="truth", title="What a simulation knows about itself", free=True)

TABLES: Mapping[str, TableKind] = {
    kind.name: kind
    for kind in (
        SHEET,
        CONDITIONS,
        WINDING_RESISTANCE,
        POSITION,
        INSULATION_RESISTANCE,
        STEP_VOLTAGE,
        DISSIPATION,
        TURN_TEST,
        TRUTH,
    )
}
"""All kinds of table by name, in the order in which they are written."""
