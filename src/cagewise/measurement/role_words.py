"""Words that channel names are made of, in the languages that instruments are set to.

English, German, French, Spanish, Portuguese and Swedish; small letters, accents removed.
"""

from __future__ import annotations

from collections.abc import Mapping


def _words(text: str) -> frozenset[str]:
    """Return the words of a text."""
    return frozenset(text.split())


CURRENT_WORDS = _words("""
    current amp amps ampere amperes
    strom leiterstrom strangstrom phasenstrom
    courant intensite corriente intensidad corrente
    fasstrom linjestrom
""")
"""Words that say that a channel is a current."""

VOLTAGE_WORDS = _words("""
    voltage volt volts
    spannung strangspannung phasenspannung leiterspannung aussenleiterspannung
    tension voltaje tensao voltagem
    spanning fasspanning huvudspanning
""")
"""Words that say that a channel is a voltage."""

PHASE_WORDS = _words("""
    phase ph line phas phasen leiter aussenleiter fase fas ligne linea linha linje
""")
"""Words before a phase letter or digit ("courant phase 1")."""

FILLERS = PHASE_WORDS | _words("""
    stator motor channel kanal canal voie input
    to of de der des la le du da do del en in und
""")
"""Words that say nothing about kind or phase."""

DERIVED_WORDS = _words("""
    rms trms eff mag magnitude peak pk crest trend
    avg average mean mittel mittelwert min max
    diff differential differenz differentiel bias restraint
    thd harm harmonic harmonics angle winkel freq frequency frequenz
    power leistung puissance potencia
    neutral nulleiter neutre neutro residual residuel ground earth erde terre tierra terra jord
    seq sequence sequenz positive negative zero unbalance
    field excitation erreger rotor dc temp temperature
""")
"""Words of what is not the samples of one stator phase: derived values, neutral, rotor."""

NEUTRALS = _words("n 0 3i0 3io 3u0 3uo 3v0 i0 io u0 uo v0 in ig ie un vn vg ires inull")
"""Names of neutral and residual quantities, in one word."""

COMPONENTS = _words("i0 u0 v0 3i0 3u0")
"""Names beside which "I1, I2" may be symmetrical components instead of phases."""

LOOKALIKES: Mapping[int, str] = {0x430: "a", 0x432: "b", 0x441: "c", 0x442: "t"}
"""Small Cyrillic letters (a, ve, es, te) that are typed for the Latin ones they resemble."""
