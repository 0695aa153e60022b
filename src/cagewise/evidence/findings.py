"""What one reading says about one hypothesis: the vocabulary of the evidence layer.

Words for people are not made here. A finding carries a :class:`Ground` and the numbers that belong
to it; ``report.wording`` turns both into a sentence.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from cagewise.evidence.fusion.posterior import Posterior
from cagewise.indicators.reading import IndependenceClass, Method, ReferenceLimit
from cagewise.quantities import Estimate, NotKnown


class Hypothesis(StrEnum):
    """What could be the matter."""

    CAGE_DEFECT = "cage defect"
    """Bars, or the ring between them, carry less current than their neighbours."""
    LOAD_OSCILLATION = "load oscillation at the pole-pass frequency"
    """The driven machine makes the speed swing at, or too near to, twice the slip frequency."""
    SUPPLY_MODULATION = "supply modulation"
    """The supply voltage itself carries lines at the pole-pass distance."""
    WINDING_DEFECT = "winding defect"
    """A bad joint, a parted conductor, shorted turns."""
    INSULATION_DEFECT = "insulation defect"
    """The insulation to earth is wet, dirty, aged or broken."""


class Support(StrEnum):
    """What a reading does for a hypothesis."""

    FOR = "for"
    AGAINST = "against"
    CANNOT_TELL = "cannot tell"


class Ground(StrEnum):
    """Why a finding is what it is; each has its sentence in ``report.wording``."""

    NOT_READ = "not_read"
    """The reading is not valid; the note says why."""
    NOT_IN_BARS = "not_in_bars"
    """A line stands, but no way is known to say how much damage it means on this motor."""
    DAMAGE_ESTABLISHED = "damage_established"
    """The whole interval lies above the smallest damage that counts."""
    NO_MORE_THAN = "no_more_than"
    """The upper limit lies below one open bar."""
    BLIND_BELOW = "blind_below"
    """Nothing was found, but this record could have hidden a whole open bar."""
    STRADDLES = "straddles"
    """The interval reaches from harmless to damaged."""
    PATTERN_MAY_HIDE = "pattern_may_hide"
    """Lines of little damage stand; bars that cancel in them would show no more."""
    LINE_FOUND = "line_found"
    """A line that only an asymmetric cage puts there stands; how much damage is not known."""
    EXPLAINED_BY_SPEED = "explained_by_speed"
    """High, but the direct component puts the lines down to the speed, not the cage."""
    CAN_BE_CANCELLED = "can_be_cancelled"
    """Low, but the direct component finds damage: speed ripple can cancel this reading."""
    SPEED_NOT_EXCLUDED = "speed_not_excluded"
    """High, but the direct component does not exclude that speed ripple alone makes the lines."""
    SHAPE_OF_ROTOR = "shape_of_rotor"
    """High, but beside the 5th and 7th harmonic, where open bars would show, they do not: the
    shape of a sound rotor (ducts, arms, flats, as many as poles) makes exactly this."""
    SUPPLY_NOT_EXCLUDED = "supply_not_excluded"
    """High, but without voltages the supply may make it, and no harmonic line confirms it."""
    MORE_THAN_SIDE_LINES = "more_than_side_lines"
    """Higher than the damage that the side lines leave room for would make, were its bars
    adjacent."""
    OUTRANKED = "outranked"
    """Low, but a more proof reading of the same lines leaves room for an open bar."""
    TREND_NOT_THE_CAGE = "trend_not_the_cage"
    """Changed against the motor's own past, but the side line of the start bounds the damage."""
    RECORDS_CONFLICT = "records_conflict"
    """Recordings of one visit contradict each other."""
    NOTHING_TO_EXPLAIN = "nothing_to_explain"
    """No line stands at the pole-pass distance."""
    LINES_WITHOUT_CAGE = "lines_without_cage"
    """Lines stand, and the direct component says that the cage does not make them."""
    CAGE_REMAINS = "cage_remains"
    """Speed ripple was removed and damage remains: the load alone cannot explain the lines."""
    REST_REMAINS = "rest_remains"
    """This cause was removed and lines remain, of the rotor's shape or of the cage."""
    NO_SEPARATION = "no_separation"
    """Nothing in this record parts the cage from this cause."""
    POWER_ACTIVE = "power_active"
    """The line in the power is mostly active, as an oscillating load makes it."""
    POWER_REACTIVE = "power_reactive"
    """The line in the power is as much reactive, as a cage makes it."""
    POWER_BETWEEN = "power_between"
    """The line in the power lies between the two."""
    SUPPLY_MAKES_THEM = "supply_makes_them"
    """The lines come with the supply voltage; no load is needed to explain them."""
    VOLTAGE_CLEAN = "voltage_clean"
    """The supply's part of the lines is small."""
    VOLTAGE_EXPLAINS = "voltage_explains"
    """The lines of the voltage explain those of the current."""
    VOLTAGE_REMOVED = "voltage_removed"
    """The voltage carries such lines; their part was removed and damage remains."""
    VOLTAGE_NOT_MEASURED = "voltage_not_measured"
    """Without voltages a modulated supply cannot be told from the motor."""
    WITHIN_LIMIT = "within_limit"
    """The whole interval lies on the sound side of the published limit."""
    BEYOND_LIMIT = "beyond_limit"
    """The whole interval lies on the wrong side of the published limit."""
    BEYOND_REFERENCE = "beyond_reference"
    """The same, of a published reference that a sound part may miss."""
    AT_LIMIT = "at_limit"
    """The limit lies inside the interval."""
    NO_LIMIT = "no_limit"
    """No standard limits this value: it is reported for comparison with the motor's own past."""
    CHANGE_FOUND = "change_found"
    """A change of behaviour was found that a sound part does not show."""
    NO_CHANGE = "no_change"
    """No such change was found."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """What one reading says about one hypothesis."""

    hypothesis: Hypothesis
    reading: str
    """Name of the reading."""
    title: str
    """The reading in words."""
    independence_class: IndependenceClass
    support: Support
    ground: Ground
    method: Method | None = None
    """Method the reading counts for."""
    bars: Estimate | None = None
    """Open-bar equivalent of the reading."""
    bound_bars: float | None = None
    """Upper 95 % limit in open bars: of the interval, and of what the record could have hidden."""
    detected: bool = False
    """Whether the reading stands out of the noise."""
    value: Estimate | None = None
    """The reading where it is compared with a limit, in :attr:`unit`."""
    unit: str = ""
    limit: ReferenceLimit | None = None
    """What it is compared with."""
    numbers: Mapping[str, float] = field(default_factory=dict)
    """Numbers for the sentence."""
    note: str = ""
    """Reason handed up from a lower layer."""
    caveats: tuple[str, ...] = ()
    """What else could produce the reading."""
    pair_hidden: bool = False
    """Whether bars 90 electrical degrees apart would go unseen on this motor, although other
    motors show them in such a reading."""
    with_voltages: bool = True
    """Whether voltages were recorded with what was read."""
    order_2_stands: bool = False
    """Whether the reading rests on the second order of the rotor's angle, which such bars leave
    empty."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassVerdict:
    """The one vote of a class of readings that share data and physics."""

    independence_class: IndependenceClass
    support: Support
    ground: Ground
    lead: str
    """Name of the reading that speaks for the class."""
    bars: Estimate | None = None
    """Open-bar equivalent of the leading reading."""
    bound_bars: float | None = None
    """Upper 95 % limit of the leading reading, in open bars."""


class PoolGround(StrEnum):
    """What the pooled line of the forest plot stands on."""

    ONE_CLASS = "one_class"
    """One class can tell; there is nothing to pool it with."""
    CLASSES_AGREE = "classes_agree"
    """Classes agree and so do their intervals: the interval is that of the sharpest."""
    COUNT_DIFFERS = "count_differs"
    """Classes agree that there is damage but not how much: the interval covers all."""
    CLASSES_DISAGREE = "classes_disagree"
    """Classes contradict each other: nothing is pooled."""
    RECORDS_CONFLICT = "records_conflict"
    """Recordings contradict each other: nothing is pooled."""
    NOTHING = "nothing"
    """No class can tell."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pooled:
    """The last line of the forest plot; not a calibrated estimate."""

    ground: PoolGround
    bars: Estimate | None = None
    """Open-bar equivalent over the classes that agree, None when they do not."""


class BlindSpot(StrEnum):
    """What the readings at hand cannot exclude; each has its words in ``report.wording``."""

    MASKED_PAIR = "masked_pair"
    """Broken bars 90 electrical degrees apart: their side lines cancel (kernel K2 is zero)."""
    SYMMETRIC_DAMAGE = "symmetric_damage"
    """Damage that is alike in all bars (porosity, uniform joints): no line at all."""
    OUTER_CAGE = "outer_cage"
    """The outer cage of a double cage or deep bar: it carries little current when running."""
    CRACKED_BAR = "cracked_bar"
    """A crack that only raises the resistance of a bar: at the start and at rest its current has
    nearly supply frequency, where the reactance decides."""
    INTER_BAR_CURRENT = "inter_bar_current"
    """Current that passes a break through the iron between the bars."""
    ANISOTROPIC_ROTOR = "anisotropic_rotor"
    """Axial ducts, spider arms or flats, as many as poles: the same lines without damage."""
    RING_OR_BARS = "ring_or_bars"
    """A cut end ring reads as broken bars."""
    LOAD_OSCILLATION = "load_oscillation"
    """A load that swings at the pole-pass frequency."""
    SUPPLY_MODULATION = "supply_modulation"
    """A supply that is modulated at the pole-pass distance."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """All that the readings say, weighed and counted, but not yet judged."""

    findings: tuple[Finding, ...]
    """One per reading and hypothesis it can speak on, in the order of the readings."""
    classes: tuple[ClassVerdict, ...]
    """One per class that has a reading."""
    methods_for: tuple[Method, ...]
    """Methods that speak for a cage defect."""
    methods_against: tuple[Method, ...]
    """Methods that speak against it."""
    pooled: Pooled
    probability: float | NotKnown
    """Calibrated probability of a cage defect, or why there is none."""
    blind_spots: tuple[BlindSpot, ...]
    """What is not excluded."""
    posterior: Posterior | NotKnown
    """What all readings say together, calibrated or not, or why nothing can be said."""

    @property
    def classes_for(self) -> tuple[IndependenceClass, ...]:
        """Classes that speak for a cage defect."""
        return tuple(c.independence_class for c in self.classes if c.support is Support.FOR)

    @property
    def classes_against(self) -> tuple[IndependenceClass, ...]:
        """Classes that speak against it."""
        return tuple(c.independence_class for c in self.classes if c.support is Support.AGAINST)

    def verdict_of(self, independence_class: IndependenceClass) -> ClassVerdict | None:
        """Return the vote of a class, or None when it has no reading."""
        return next((c for c in self.classes if c.independence_class is independence_class), None)

    def about(self, hypothesis: Hypothesis) -> tuple[Finding, ...]:
        """Return the findings on one hypothesis."""
        return tuple(f for f in self.findings if f.hypothesis is hypothesis)
