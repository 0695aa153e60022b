"""From raw channels to signals that may be read: roles proven, quality judged, frame found."""

from cagewise.conditioning.findings import (
    Ability,
    FindingCode,
    QualityFinding,
    Severity,
    blocked_abilities,
)
from cagewise.conditioning.frame import OrderBand, SupplyFrame, supply_frame
from cagewise.conditioning.limits import QualityLimits
from cagewise.conditioning.quality import judge_quality
from cagewise.conditioning.quality_steady import judge_duration
from cagewise.conditioning.roles import RoleProof, prove_roles
from cagewise.conditioning.signals import Band, StatorSignals
from cagewise.conditioning.steady import Boundary, Stretch, find_steady_stretches
from cagewise.conditioning.survey import Survey, survey_recording

__all__ = [
    "Ability",
    "Band",
    "Boundary",
    "FindingCode",
    "OrderBand",
    "QualityFinding",
    "QualityLimits",
    "RoleProof",
    "Severity",
    "StatorSignals",
    "Stretch",
    "SupplyFrame",
    "Survey",
    "blocked_abilities",
    "find_steady_stretches",
    "judge_duration",
    "judge_quality",
    "prove_roles",
    "supply_frame",
    "survey_recording",
]
