"""The few numbers of the fusion, fitted on motors of known truth: ``evidence/calibration.toml``.

``python benchmarks/truth/fit.py RESULTS.jsonl`` writes the file anew.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib import resources
from typing import Any

from cagewise.evidence.fusion.patterns import Family
from cagewise.evidence.fusion.posterior import (
    Channels,
    LoadBand,
    Rate,
    SourceKind,
    Stratum,
    StratumRates,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyModel:
    """How readings of one family err."""

    inflation: float
    """Factor on the standard deviation that the reading's own interval states."""
    bias: float
    """Mean of the logarithm of reading over truth."""
    outlier: float
    """Share of readings that have nothing to do with the cage."""
    typical_sd: float = 0.15
    """Median standard deviation of the logarithm of a reading that stands, before inflation."""
    typical_limit_bars: float = 0.3
    """Median detection limit, open bars."""
    readings: int = 0
    """Readings that these numbers were fitted on; 0 where they are our judgement."""


JUDGED: Mapping[Family, FamilyModel] = {
    Family.DIRECT: FamilyModel(inflation=1.3, bias=0.0, outlier=0.03),
    Family.DIRECT_CURRENTS: FamilyModel(inflation=1.3, bias=0.0, outlier=0.10),
    Family.SIDE_LINES: FamilyModel(inflation=1.3, bias=0.0, outlier=0.20),
    Family.HARMONIC: FamilyModel(inflation=1.3, bias=0.0, outlier=0.05),
    Family.START_LINE: FamilyModel(inflation=1.3, bias=0.0, outlier=0.05),
    Family.START_CHANGE: FamilyModel(inflation=1.5, bias=0.0, outlier=0.30),
    Family.POSITION: FamilyModel(inflation=1.3, bias=0.0, outlier=0.05),
    Family.MEAN: FamilyModel(inflation=1.5, bias=0.0, outlier=0.50),
}
"""Where nothing was fitted. Outlier shares by what else makes the reading: a swinging load makes
side lines, load and voltage change a start, residual magnetism the mean inductance (our judgement,
no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FusionParameters:
    """All numbers of the likelihood."""

    families: Mapping[Family, FamilyModel] = field(default_factory=lambda: dict(JUDGED))
    natural_bars: float = 0.04
    """Scale of the Rayleigh distribution of what a sound cage reads, open bars: bars that differ by
    1 % (standard deviation) on the 3 kW reference motor; our judgement where not fitted."""
    shared_sd: float = 0.10
    """Standard deviation of the one factor that running and start readings of a visit share, in
    the logarithm: motor model and slip."""
    floor_share: float = 0.5
    """Part of the detection limit at which errors change from additive to relative."""
    record_outlier: float = 0.005
    """Probability that both classes of a running record err together: wrong slip, bad sensor."""
    shape_outlier: float = 0.02
    """Probability that the shape of a sound rotor (ducts, spider arms, flats, as many as poles)
    makes the fundamental's lines and the position pattern; our judgement, no source."""
    mixed_share: float = 0.5
    """Part of adjacent damage in which cracked bars stand side by side or beside open ones; our
    judgement (the neighbours of an open bar are seldom sound), no source. The study has none."""
    guard: float = 0.02
    """Least distance of the probability of a defect from 0 and 1."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Provenance:
    """Where the numbers come from."""

    date: str = ""
    version: str = ""
    command: str = ""
    cases: int = 0
    """Cases of the study."""
    fitted_on: int = 0
    """Cases of the half that was fitted on."""
    reported_on: int = 0
    """Cases of the other half, of scenes that nobody saw while building: rates and guard are of
    these."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibrated:
    """Parameters with their provenance and the rates of every stratum of the study."""

    parameters: FusionParameters = field(default_factory=FusionParameters)
    strata: tuple[StratumRates, ...] = ()
    provenance: Provenance = field(default_factory=Provenance)

    def rates_of(self, stratum: Stratum) -> StratumRates:
        """Return the rates to be quoted for a stratum.

        Its own where the study has enough motors of this kind, else those of the nearest coarser
        stratum that has enough (:meth:`Stratum.coarser`); the result names which. Where none has
        enough its own few, of no cases at all where the study has none.
        """
        counted = {rates.stratum: rates for rates in self.strata}
        for one in (stratum, *stratum.coarser()):
            if one in counted and counted[one].enough:
                return counted[one]
        if stratum in counted:
            return counted[stratum]
        none = Rate(events=0, cases=0)
        return StratumRates(stratum=stratum, false_calls=none, missed=none, undecided=none)


@cache
def shipped() -> Calibrated:
    """Return what stands in ``calibration.toml``."""
    text = resources.files("cagewise.evidence").joinpath("calibration.toml")
    return calibrated_from(tomllib.loads(text.read_text(encoding="utf-8")))


def calibrated_from(document: Mapping[str, Any]) -> Calibrated:
    """Return a calibration from the parsed file."""
    numbers = dict(document["fusion"])
    families = dict(JUDGED) | {
        Family(name): FamilyModel(**entry) for name, entry in document.get("family", {}).items()
    }
    return Calibrated(
        parameters=FusionParameters(families=families, **numbers),
        strata=tuple(_rates(entry) for entry in document.get("stratum", ())),
        provenance=Provenance(**document["provenance"]),
    )


def _rates(entry: Mapping[str, Any]) -> StratumRates:
    """Return the rates of one stratum from its table."""
    stratum = Stratum(
        channels=Channels(entry["channels"]),
        load=LoadBand(entry["load"]),
        sources=tuple(SourceKind(kind) for kind in entry["sources"]),
        converter_fed=entry["converter_fed"],
    )
    return StratumRates(
        stratum=stratum,
        false_calls=Rate(events=entry["false_calls"], cases=entry["sound"]),
        missed=Rate(events=entry["missed"], cases=entry["damaged"]),
        undecided=Rate(events=entry["undecided"], cases=entry["cases"]),
    )


def document_of(calibrated: Calibrated) -> str:
    """Return the text of the file for a calibration; :func:`calibrated_from` reads it back."""
    parameters, made = calibrated.parameters, calibrated.provenance
    lines = [
        "# Numbers of the fusion, fitted on simulated motors of known truth; do not edit.",
        "# Meaning and units: evidence/fusion/parameters.py and docs/theory/fusion.md.",
        "",
        "[provenance]",
        f'date = "{made.date}"',
        f'version = "{made.version}"',
        f'command = "{made.command}"',
        f"cases = {made.cases}",
        f"fitted_on = {made.fitted_on}",
        f"reported_on = {made.reported_on}",
        "",
        "[fusion]",
        *(
            f"{name} = {getattr(parameters, name):.4g}"
            for name in FusionParameters.__dataclass_fields__
            if name != "families"
        ),
    ]
    for family, model in parameters.families.items():
        lines += ["", f'[family."{family.value}"]']
        numbers = (name for name in FamilyModel.__dataclass_fields__ if name != "readings")
        lines += [f"{name} = {getattr(model, name):.4g}" for name in numbers]
        lines += [f"readings = {model.readings}"]
    for rates in calibrated.strata:
        lines += ["", "[[stratum]]", *_stratum_lines(rates)]
    return "\n".join(lines) + "\n"


def _stratum_lines(rates: StratumRates) -> list[str]:
    """Return the entries of one stratum."""
    stratum = rates.stratum
    sources = ", ".join(f'"{kind.value}"' for kind in stratum.sources)
    return [
        f'channels = "{stratum.channels.value}"',
        f'load = "{stratum.load.value}"',
        f"sources = [{sources}]",
        f"converter_fed = {str(stratum.converter_fed).lower()}",
        f"sound = {rates.false_calls.cases}",
        f"false_calls = {rates.false_calls.events}",
        f"damaged = {rates.missed.cases}",
        f"missed = {rates.missed.events}",
        f"cases = {rates.undecided.cases}",
        f"undecided = {rates.undecided.events}",
    ]
