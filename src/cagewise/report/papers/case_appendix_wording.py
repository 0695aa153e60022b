"""The appendix of the case report: methods with their sources, and words with their meanings."""

from __future__ import annotations

from dataclasses import dataclass

from cagewise.indicators.reading import IndependenceClass

METHOD_HEADS = ("Method", "How it works", "Sources")


@dataclass(frozen=True, slots=True, kw_only=True)
class Described:
    """A method in words."""

    name: str
    how: str
    sources: str
    """As the theory pages cite them."""
    kinds: frozenset[IndependenceClass] = frozenset()
    """Kinds of measurement that it belongs to; none where it belongs to all."""


CLASSES = IndependenceClass
METHODS: tuple[Described, ...] = (
    Described(
        kinds=frozenset({CLASSES.RUNNING_FUNDAMENTAL}),
        name="Direct component",
        how="Voltages and currents are brought into the frame of the supply. The upper "
        "side line says what the swinging speed adds to the lower one; the rest is "
        "the cage.",
        sources="Derived for this program (docs/theory/direct-component.md); Emerick and "
        "Reynolds, Computers & Geosciences 55, 2013; Deming 1943 (from memory).",
    ),
    Described(
        kinds=frozenset({CLASSES.RUNNING_FUNDAMENTAL}),
        name="Side lines, demodulated current",
        how="Lines two slip frequencies beside the supply frequency, against the local "
        "noise, and the beat that they make of the current.",
        sources="Filippetti et al. 1998; Bellini et al., IEEE Trans. Ind. Appl. 37(5), 2001; "
        "Thomson and Fenger 2001; Cruz and Cardoso 2000 (from memory). "
        "docs/theory/side-lines.md, envelope.md.",
    ),
    Described(
        kinds=frozenset({CLASSES.RUNNING_HARMONIC}),
        name="Lines at the 5th and 7th harmonic",
        how="Lines of the cage beside the 5th and 7th harmonic, in the sequence in which "
        "only the cage makes them.",
        sources="Deleroi 1984; Fiser and Ferkolj (from memory). docs/theory/harmonic-lines.md.",
    ),
    Described(
        kinds=frozenset({CLASSES.START}),
        name="Side line of a start",
        how="The line at |1 - 2s| times the supply frequency, followed along the slip of "
        "this start.",
        sources="Deleroi 1984; Antonino-Daviu, Riera-Guasp et al. 2006-2009 (abstracts). "
        "docs/theory/start-track.md.",
    ),
    Described(
        kinds=frozenset({CLASSES.STANDSTILL_PATTERN, CLASSES.STANDSTILL_MEAN}),
        name="Impedance against rotor position",
        how="Waves of the impedance between the terminals as the shaft is turned, and the "
        "change of their mean since earlier tests.",
        sources="Derived for this program (docs/theory/position-pattern.md, "
        "mean-inductance.md); ANSI/EASA AR100 (secondary); 12 to 24 positions: field "
        "guides (from memory).",
    ),
    Described(
        kinds=frozenset({CLASSES.WINDING_RESISTANCE, CLASSES.WINDING_IMPEDANCE}),
        name="Winding resistance",
        how="Resistances between the terminals at 25 \N{DEGREE SIGN}C, compared with each other "
        "and with earlier tests.",
        sources="IEC 60034-1 cl. 8.6.2.2, IEEE 112, IEEE 118 (from memory); ANSI/EASA "
        "AR100-2020 (secondary). docs/theory/winding-resistance.md.",
    ),
    Described(
        kinds=frozenset({CLASSES.WINDING_TURNS}),
        name="Comparison of pulse responses",
        how="What the pairs of terminals answer to one steep front, compared.",
        sources="IEEE 522-2004 (abstract). docs/theory/turn-test.md.",
    ),
    Described(
        kinds=frozenset({CLASSES.INSULATION_DIRECT, CLASSES.INSULATION_ALTERNATING}),
        name="Insulation tests",
        how="Insulation resistance at 40 \N{DEGREE SIGN}C and its rise with time, current against "
        "stepped voltage, dissipation factor and capacitance.",
        sources="IEEE 43-2013 and -2000, IEEE 95-2002 (secondary and from memory); IEC "
        "60034-27-3:2015, IEC 60034-1 (from memory). docs/theory/insulation.md.",
    ),
)
"""Methods of the kinds of measurement."""
ALWAYS: tuple[Described, ...] = (
    Described(
        name="Open bars",
        how="Every reading is compared with what broken bars of this motor would make of "
        "it; the circuit comes from the nameplate, with its uncertainty.",
        sources="Cage solution derived for this program, checked against an independent "
        "simulation bar by bar (docs/theory/cage-harmonic-solution.md, "
        "docs/validation.md).",
    ),
    Described(
        name="State",
        how="Methods and independent kinds of measurement that agree are counted; "
        "contradictions are never resolved towards sound.",
        sources="At least three of six methods: common practice, no source. "
        "docs/theory/evidence.md.",
    ),
    Described(
        name="Probability",
        how="All readings weighed with how they erred on simulated motors of known truth, "
        "and how common damage is before anything is measured.",
        sources="Wilson, J. American Statistical Association 22, 1927; Raiffa and Schlaifer, "
        "1961 (from memory). docs/theory/fusion.md.",
    ),
    Described(
        name="Costs",
        how="What each action costs if the cage is sound and if it is damaged, weighed by "
        "the probability.",
        sources="Raiffa, Decision Analysis, 1968 (from memory); rates of failure: our "
        "judgement. docs/theory/decision-costs.md.",
    ),
)
"""What every report stands on."""
TREND_METHOD = Described(
    name="Trend",
    how="A state-space model of growth through all comparable visits, with the load as "
    "covariate, and two cumulative sums that watch for a change.",
    sources="Durbin and Koopman, 2nd ed. 2012; Page, Biometrika 41, 1954; Brook and Evans, "
    "Biometrika 59, 1972 (from memory). docs/theory/trend.md.",
)
SOURCES_NOTE = (
    "\u201cFrom memory\u201d and \u201csecondary\u201d: not checked against the document "
    "itself. Check a limit against the standard before something expensive hangs on it."
)
READINGS_NOTE = "dBc: decibels relative to the fundamental of the current."
READINGS_HEADS = ("Reading", "Value")

GLOSSARY_HEADS = ("Word", "Meaning here")
GLOSSARY: dict[str, str] = {
    "Cage": "Bars in the rotor, joined by a ring at either end. Current in them turns the motor.",
    "Open bar": "A bar that carries no current, broken or loose in its ring. The unit of damage "
    "here: \u201c1.5 open bars\u201d is as much as one and a half adjacent ones would show.",
    "Interval, 95 %": "The true value lies in it 95 times of 100. Wide: little is known.",
    "Detection limit": "The smallest damage that a record could have shown. Below it, silence "
    "proves nothing.",
    "Independent kind of measurement (class)": "Readings that share data and physics have one "
    "vote together, however many they are.",
    "Probability": "How many of 100 motors that read like this one have a damaged cage, given how "
    "common damage is beforehand.",
    "Sound": "Damage of one open bar is excluded at 95 %; what hides is named beside it.",
    "Suspect": "Something speaks for damage, and too little confirms it.",
    "Defective": "Enough independent kinds of measurement agree on damage.",
    "Not decidable": "The records do not allow a verdict. It is neither good nor bad news.",
    "Valid": "The conditions hold under which a reading means something.",
    "Slip": "How far the rotor lags behind the field, as a share of its speed.",
    "Pole-pass frequency": "Twice the slip times the supply frequency: how often a broken bar "
    "passes a pole.",
    "Side line": "A line in the spectrum beside the supply frequency, at that distance.",
    "Harmonic": "A multiple of the supply frequency.",
    "90 electrical degrees apart": "Half the distance between two poles: two broken bars there "
    "cancel each other's sign.",
    "Blind spot": "Damage, or another cause, that these measurements cannot tell.",
    "Insulation resistance": "What keeps the voltage of the winding from the iron, in ohm.",
    "Polarization index": "Insulation resistance after ten minutes over that after one.",
    "Covariate": "What moves a reading beside damage: here the load and the temperature.",
}
"""In the order in which a reader meets them."""
