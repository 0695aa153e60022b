"""Polarization index and absorption ratio: how the absorption current dies away.

Both are ratios of two readings of one run, so temperature and the kind of insulation cancel; what
they can and cannot tell is in docs/theory/insulation.md.
"""

from __future__ import annotations

import math
from dataclasses import replace

from cagewise.indicators.reading import Reading, ReferenceLimit
from cagewise.indicators.winding.head import least, settled_limit, subject
from cagewise.indicators.winding.insulation_context import (
    ONE_MINUTE_S,
    TEN_MINUTES_S,
    InsulationContext,
    direct_head,
    one_minute,
    resistance_at,
    temperature_of,
    time_name,
)
from cagewise.machine.winding_limits import (
    ABOUT_1970,
    GIGOHM,
    MEGOHM,
    POLARIZATION_CEILING_OHM,
    POLARIZATION_CLASSES,
    POLARIZATION_HIGH,
    THERMOPLASTIC,
    THERMOSETTING,
    discharge_time_s,
    minimum_polarization_index,
)
from cagewise.measurement.test_sheet import InsulationResistanceTest
from cagewise.quantities import Estimate, NotKnown

INDEX = direct_head("polarization_index", "polarization index, 10 min over 1 min", "1")
RATIO = direct_head("absorption_ratio", "absorption ratio", "1")

RATIO_STARTS_S = (30.0, 15.0)
"""Earlier times of the absorption ratio in use, the more usual first; the later one is 60 s."""

RANDOM_WOUND = (
    "not applicable: the absorption current of a random-wound winding may be gone within 2 to 3 "
    "min (IEEE 43-2013 cl. 5.4, read in a trade article)"
)
TOO_GOOD = (
    "not applicable: the resistance after 1 min at 40 degC exceeds 5 GOhm, and the index is then "
    "not to be used (IEEE 43 Table 2, secondary)"
)


def read_index(context: InsulationContext, test: InsulationResistanceTest) -> Reading:
    """Read the polarization index with its exemptions."""
    head = INDEX.titled(subject(test.tested))
    ratio = _ratio(context, test, TEN_MINUTES_S, ONE_MINUTE_S)
    if isinstance(ratio, NotKnown):
        return head.refused(ratio.reason)
    details = {
        "index_as_measured_1": ratio.value,
        "least_discharge_s": discharge_time_s(float(test.time_s[-1])),
    }
    if context.motor.winding.construction == "random":
        return replace(head.refused(RANDOM_WOUND), details=details)
    found = one_minute(context, test, context.sheet)
    if not isinstance(found, NotKnown) and found.at_40_ohm[0] > POLARIZATION_CEILING_OHM:
        return replace(head.refused(TOO_GOOD), details=details)
    limit, doubts = _limit(context, test, ratio.value)
    caveats = (*doubts, *_dry_insulation(context, ratio.value), *context.common_caveats())
    return replace(head.read(ratio, caveats), limit=limit, details=details)


def _ratio(
    context: InsulationContext, test: InsulationResistanceTest, late_s: float, early_s: float
) -> Estimate | NotKnown:
    """Return the ratio of the readings at two nominal times, or why there is none."""
    wet = context.wet(temperature_of(test, context.sheet))
    if wet:
        return NotKnown(wet)
    tolerance = context.limits.time_tolerance
    late, early = (resistance_at(test, time, tolerance) for time in (late_s, early_s))
    if isinstance(late, NotKnown) or isinstance(early, NotKnown):
        return NotKnown("; ".join(r.reason for r in (early, late) if isinstance(r, NotKnown)))
    spread = math.exp(math.sqrt(2.0) * math.log1p(context.limits.repeat_error))
    return Estimate(late / early, late / early / spread, late / early * spread)


def _limit(
    context: InsulationContext, test: InsulationResistanceTest, index: float
) -> tuple[ReferenceLimit | None, tuple[str, ...]]:
    """Return the least index for this winding, and what is not known about it."""
    thermal_class = context.motor.nameplate.thermal_class
    published = [
        minimum_polarization_index(c) for c in ([thermal_class] if thermal_class else "AB")
    ]
    candidates = [least(p) for p in published if not isinstance(p, NotKnown)]
    if not candidates:
        return None, (f"no limit: {POLARIZATION_CLASSES}; not class {thermal_class}",)
    unknown = []
    if context.motor.winding.construction is None:
        unknown.append("not applicable if random-wound, which is not known")
    found = one_minute(context, test, context.sheet)
    if isinstance(found, NotKnown):
        unknown.append(f"not to be used above 5 GOhm at 40 degC, and {found.reason}")
    elif found.at_40_ohm[1] > POLARIZATION_CEILING_OHM:
        low, high = (r / GIGOHM for r in found.at_40_ohm)
        unknown.append(
            f"not to be used above 5 GOhm at 40 degC, and the resistance is {low:.2g} or "
            f"{high:.2g} GOhm by a kind of insulation that is not known"
        )
    if unknown:
        forms = "; ".join(limit.form for limit in candidates)
        return None, (f"valid, but the limit is not known: {', '.join(unknown)} ({forms})",)
    return settled_limit(index, candidates, f"thermal class not known ({POLARIZATION_CLASSES})")


def _dry_insulation(context: InsulationContext, index: float) -> tuple[str, ...]:
    """Warn of an index that is too high, where the kind of insulation makes it mean something."""
    winding = context.motor.winding
    modern = winding.insulation == THERMOSETTING or (
        winding.insulation is None
        and winding.built_year is not None
        and winding.built_year >= ABOUT_1970 + context.limits.changeover_span_years
    )
    if index <= POLARIZATION_HIGH or modern:
        return ()
    condition = "" if winding.insulation == THERMOPLASTIC else "if it is thermoplastic, "
    return (
        (
            f"{condition}an index above {POLARIZATION_HIGH:g} may mean dry, brittle insulation "
            "(asphaltic and varnished-cambric systems only; older text of IEEE 43, secondary)"
        ),
    )


def read_absorption(context: InsulationContext, test: InsulationResistanceTest) -> Reading:
    """Read the absorption ratio at the pair of times that was measured."""
    head = RATIO.titled(subject(test.tested))
    ratios = {s: _ratio(context, test, ONE_MINUTE_S, s) for s in RATIO_STARTS_S}
    found = {s: ratio for s, ratio in ratios.items() if not isinstance(ratio, NotKnown)}
    if not found:
        reasons = [ratio.reason for ratio in ratios.values() if isinstance(ratio, NotKnown)]
        return head.refused("; or ".join(dict.fromkeys(reasons)))
    start = next(iter(found))
    caveats = (
        (
            "IEEE 43 has no limit for this ratio (from memory): it is compared with its own "
            "earlier values"
        ),
        *context.common_caveats(),
    )
    titled = RATIO.titled(f"60 s over {time_name(start)}").titled(subject(test.tested))
    details = {f"ratio_60_s_over_{s:.0f}_s_1": ratio.value for s, ratio in found.items()}
    measured = resistance_at(test, ONE_MINUTE_S, context.limits.time_tolerance)
    if not isinstance(measured, NotKnown):
        details["measured_1_min_megohm"] = measured / MEGOHM
    return replace(titled.read(found[start], caveats), details=details)
