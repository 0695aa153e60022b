"""The sentences of the page of examinations made again."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from cagewise.history.differences import Kind
from cagewise.report.reexamination_view import CauseKind, Fate

TITLE = "EXAMINED AGAIN with version {version}{dry}"
DRY = " (dry run: nothing was kept)"
FATES: Mapping[Fate, str] = MappingProxyType(
    {
        Fate.CHANGED: "Changed",
        Fate.UNCHANGED: "Unchanged",
        Fate.UP_TO_DATE: "Up to date",
        Fate.REFUSED: "Not possible",
    }
)
COUNTS: Mapping[Fate, str] = MappingProxyType(
    {
        Fate.CHANGED: "{visits}; state of the cage: {states}, action: {actions}",
        Fate.UNCHANGED: "{visits}",
        Fate.UP_TO_DATE: "{visits} made by this version of what is kept now (--again examines "
        "them all the same)",
        Fate.REFUSED: "{visits}, see below",
    }
)
NEVER = "Never examined"
NEVER_COUNT = '{visits}: "cagewise assess TAG --visit DAY"'
NOTHING = "There is no examined visit."
NO_OTHER = "no other"
OTHER = "other on {visits}"

CHANGED_TITLE = "What changed"
STATE = "cage"
PROBABILITY = "P(defect)"
BARS = "open bars"
ACTION = "action"
READINGS = "{count} readings, {outside} of them beyond their old interval"
OTHER_CHANGES = "{count} other entries"
TO = "->"
ARROW = f"{{old}} {TO} {{new}}"
NONE = "none"
OLDER_COUNTS = (
    "{day}: the same as examination {new}; examination {counts}, kept later, goes on counting."
)

WHY_TITLE = "Why"
CAUSES: Mapping[CauseKind, str] = MappingProxyType(
    {
        CauseKind.PROGRAM: "other program",
        CauseKind.LIMITS: "other limits",
        CauseKind.MOTOR_FILE: "other motor file",
        CauseKind.MEASUREMENTS: "other measurements",
        CauseKind.BASELINES: "compared with others",
        CauseKind.SETTINGS: "other settings",
    }
)
CAUSE = "{name}: {change}"
ON_VISITS = "{change} ({visits})"
UNKNOWN = "not known"
UNKNOWN_WHY = (
    "nothing that is written down differs: a program changed without its version, or another "
    "computer"
)

DETAIL = "{tag}, visit of {day}: examination {old} {arrow} {new}"
NOT_KEPT = "not kept"
KINDS: Mapping[Kind, str] = MappingProxyType(
    {
        Kind.VERDICT: "verdict",
        Kind.RECOMMENDATION: "advice",
        Kind.EVIDENCE: "evidence",
        Kind.READING: "reading",
        Kind.OPERATING_POINT: "operating point",
    }
)
WITHIN = "{change} (inside the old interval)"
OUTSIDE = "{change} (OUTSIDE the old interval)"
ABSENT = "not there"
PLAIN: Mapping[bool | None, str] = MappingProxyType({None: NONE, True: "yes", False: "no"})
MORE_CHANGES = "and {count} more (--details, --json)"
MORE_VISITS = "{count} more visits changed (--details, --json)."
REFUSED_TITLE = "Not possible; the old examinations stay"
AFTER = (
    "The old examinations stay. Lists and trends use the new ones: of several examinations of a "
    "visit the one kept last."
)
