"""From evidence to the state of the cage (docs/theory/evidence.md, section 5)."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from cagewise.decision.limits import DecisionLimits
from cagewise.evidence.classes import WEAK_CLASSES, WHOLE_CAGE_CLASSES
from cagewise.evidence.findings import BlindSpot, ClassVerdict, Evidence, Ground, Support
from cagewise.indicators.reading import IndependenceClass
from cagewise.quantities import Estimate

CLASSES_OF_SIDE_LINES = frozenset(
    {
        IndependenceClass.RUNNING_FUNDAMENTAL,
        IndependenceClass.START,
        IndependenceClass.STANDSTILL_PATTERN,
    }
)
"""Classes whose reading is blind to bars 90 electrical degrees apart (kernel K2)."""
CLASSES_OF_OTHER_KERNELS = frozenset(
    {
        IndependenceClass.RUNNING_HARMONIC,
        IndependenceClass.STANDSTILL_PATTERN,
        IndependenceClass.STANDSTILL_MEAN,
    }
)
"""Classes that see them (kernels K4 and higher, and K0)."""

CLASSES_OF_ROTOR_SHAPE = frozenset(
    {IndependenceClass.RUNNING_FUNDAMENTAL, IndependenceClass.STANDSTILL_PATTERN}
)
"""Classes that axial ducts, spider arms or flats, as many as poles, move without any damage. During
a start the field does not reach them (Lee et al., IEEE Trans. Ind. Appl. 49(5), 2013)."""


class State(StrEnum):
    """State of a motor part."""

    SOUND = "sound"
    SUSPECT = "suspect"
    DEFECTIVE = "defective"
    NOT_DECIDABLE = "not decidable"


class StateGround(StrEnum):
    """Why the state is what it is; each has its sentence in ``report.wording``."""

    ENOUGH_AGREE = "enough_agree"
    """Enough methods from enough classes speak for a defect and none against."""
    TOO_FEW_AGREE = "too_few_agree"
    """Something speaks for a defect, but too few methods or classes."""
    TOO_WEAK = "too_weak"
    """Enough classes speak for a defect, but some of them cannot carry a verdict."""
    SHAPE_NOT_EXCLUDED = "shape_not_excluded"
    """Enough classes speak for a defect, but the shape of a sound rotor would move all of them."""
    CLASSES_DISAGREE = "classes_disagree"
    """One class speaks for a defect and another against it."""
    MASKED_PAIR = "masked_pair"
    """What sees bars 90 electrical degrees apart speaks for a defect; the side lines do not."""
    RECORDS_CONFLICT = "records_conflict"
    """Recordings of one visit contradict each other."""
    BOUNDED = "bounded"
    """The damage is bounded below one open bar and nothing speaks for it."""
    BOUNDED_ADJACENT = "bounded_adjacent"
    """The same of adjacent bars; bars 90 electrical degrees apart would not have shown."""
    BOUNDED_PARTED = "bounded_parted"
    """The same of adjacent bars that carry no current; a cracked bar would not have shown."""
    BOUNDED_LEAST = "bounded_least"
    """The same, and neither a cracked bar nor bars 90 electrical degrees apart would have shown."""
    SHAPE_EXPLAINS = "shape_explains"
    """The side lines speak for a defect and the 5th and 7th, where it would show, do not: so does
    the shape of a sound rotor."""
    SUPPLY_NOT_EXCLUDED = "supply_not_excluded"
    """The side lines speak for a defect, but without voltages the supply may make them, and nothing
    confirms it."""
    PAIR_NOT_EXCLUDED = "pair_not_excluded"
    """The side lines bound the damage, but the 5th and 7th show more than it: so do bars 90
    electrical degrees apart."""
    NOT_BOUNDED = "not_bounded"
    """Nothing speaks for a defect, but nothing bounds it either."""
    NOTHING_READ = "nothing_read"
    """No reading of the cage was valid."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """The state of the cage and what it stands on."""

    state: State
    ground: StateGround
    methods_agreeing: int
    """Methods that speak for a defect, of the trade's six."""
    classes_agreeing: int
    """Independence classes that speak for a defect."""
    removal_supported: bool
    """Whether methods and classes suffice to recommend taking the motor out."""
    damage_bars: Estimate | None = None
    """Pooled damage where something speaks for a defect."""
    bound_bars: float | None = None
    """"No more than" this many open bars, 95 %, where something bounds them."""

    @property
    def open_bars_only(self) -> bool:
        """Whether sound is said of open bars alone: a cracked one would not have shown."""
        return self.ground in (StateGround.BOUNDED_PARTED, StateGround.BOUNDED_LEAST)


def judge(evidence: Evidence, limits: DecisionLimits) -> Verdict:
    """Return the state of the cage."""
    methods, classes = len(evidence.methods_for), len(evidence.classes_for)
    state, ground = _state(evidence, limits)
    return Verdict(
        state=state,
        ground=ground,
        methods_agreeing=methods,
        classes_agreeing=classes,
        removal_supported=state is State.DEFECTIVE
        and methods >= limits.removal_methods_min
        and len(strong(evidence.classes_for)) >= limits.removal_classes_min,
        damage_bars=evidence.pooled.bars if classes else None,
        bound_bars=_bound(evidence),
    )


def strong(classes: Iterable[IndependenceClass]) -> tuple[IndependenceClass, ...]:
    """Return the classes that can carry a verdict."""
    return tuple(c for c in classes if c not in WEAK_CLASSES)


def _state(evidence: Evidence, limits: DecisionLimits) -> tuple[State, StateGround]:
    """Return the state and its ground; a contradiction is never resolved towards sound."""
    if any(c.ground is Ground.RECORDS_CONFLICT for c in evidence.classes):
        return State.SUSPECT, StateGround.RECORDS_CONFLICT
    if evidence.classes_for:
        return _state_when_warned(evidence, limits)
    if any(_bounds_whole_cage(c) for c in evidence.classes):
        return _state_when_bounded(evidence)
    doubt = next((_DOUBTS[f.ground] for f in evidence.findings if f.ground in _DOUBTS), None)
    if doubt is not None:
        return State.NOT_DECIDABLE, doubt
    if all(c.ground is Ground.NOT_READ for c in evidence.classes):
        return State.NOT_DECIDABLE, StateGround.NOTHING_READ
    return State.NOT_DECIDABLE, StateGround.NOT_BOUNDED


_DOUBTS = {
    Ground.SHAPE_OF_ROTOR: StateGround.SHAPE_EXPLAINS,
    Ground.SUPPLY_NOT_EXCLUDED: StateGround.SUPPLY_NOT_EXCLUDED,
}
"""Findings that would speak for a defect if something else did not explain them."""


_GROUND_OF_BOUND = {
    (False, False): StateGround.BOUNDED,
    (False, True): StateGround.BOUNDED_ADJACENT,
    (True, False): StateGround.BOUNDED_PARTED,
    (True, True): StateGround.BOUNDED_LEAST,
}
"""By whether a cracked bar and whether bars 90 electrical degrees apart would have gone unseen."""


def _state_when_bounded(evidence: Evidence) -> tuple[State, StateGround]:
    """Return the state when nothing speaks for a defect and something bounds it.

    Sound is said of what is bounded: what no reading would have shown is named beside it, and where
    a reading hints at it nothing is sound.
    """
    pair_hidden = BlindSpot.MASKED_PAIR in evidence.blind_spots
    hinted = any(f.ground is Ground.MORE_THAN_SIDE_LINES for f in evidence.findings)
    if pair_hidden and hinted:
        return State.NOT_DECIDABLE, StateGround.PAIR_NOT_EXCLUDED
    crack_hidden = BlindSpot.CRACKED_BAR in evidence.blind_spots
    return State.SOUND, _GROUND_OF_BOUND[crack_hidden, pair_hidden]


def _state_when_warned(evidence: Evidence, limits: DecisionLimits) -> tuple[State, StateGround]:
    """Return the state when at least one class speaks for a defect."""
    if strong(evidence.classes_against):
        return State.SUSPECT, _ground_of_disagreement(evidence)
    speaking = strong(evidence.classes_for)
    shaped = any(f.ground is Ground.SHAPE_OF_ROTOR for f in evidence.findings)
    if shaped and speaking and CLASSES_OF_ROTOR_SHAPE.issuperset(evidence.classes_for):
        return State.NOT_DECIDABLE, StateGround.SHAPE_EXPLAINS
    if len(speaking) < limits.defective_classes_min:
        enough = len(evidence.classes_for) >= limits.defective_classes_min
        return State.SUSPECT, StateGround.TOO_WEAK if enough else StateGround.TOO_FEW_AGREE
    if CLASSES_OF_ROTOR_SHAPE.issuperset(speaking):
        return State.SUSPECT, StateGround.SHAPE_NOT_EXCLUDED
    return State.DEFECTIVE, StateGround.ENOUGH_AGREE


def _ground_of_disagreement(evidence: Evidence) -> StateGround:
    """Return whether a disagreement is the picture of bars 90 electrical degrees apart.

    Their side lines cancel, running and at the start; lines of other kernels remain. They leave the
    second order of the position pattern empty: where it stands, something else does.
    """
    silent = set(strong(evidence.classes_against))
    masked = (
        silent <= CLASSES_OF_SIDE_LINES and set(evidence.classes_for) <= CLASSES_OF_OTHER_KERNELS
    )
    warning = [f for f in evidence.findings if f.support is Support.FOR]
    masked = masked and not any(finding.order_2_stands for finding in warning)
    return StateGround.MASKED_PAIR if masked else StateGround.CLASSES_DISAGREE


def _bounds_whole_cage(verdict: ClassVerdict) -> bool:
    """Return whether the silence of a class bounds the damage."""
    return (
        verdict.support is Support.AGAINST
        and verdict.independence_class in WHOLE_CAGE_CLASSES
        and verdict.bound_bars is not None
    )


def _bound(evidence: Evidence) -> float | None:
    """Return the upper limit of the damage in open bars, from the classes that bound it.

    Of several silent classes the first in the order of :class:`IndependenceClass` is quoted: a
    choice that does not look at the limits keeps their 95 %, which the smallest of them would not.
    Where none is silent the largest limit says what could hide.
    """
    bounding = [
        c
        for c in evidence.classes
        if c.bound_bars is not None and c.independence_class in WHOLE_CAGE_CLASSES
    ]
    silent = [c for c in bounding if c.support is Support.AGAINST]
    if silent:
        return silent[0].bound_bars
    return max((c.bound_bars for c in bounding if c.bound_bars), default=None)
