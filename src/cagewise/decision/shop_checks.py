"""What a repair shop checks of a motor, by what it is sent for: a table, no words.

Its sentences stand in ``report.papers``; limits come from :mod:`cagewise.decision.limits` and
:mod:`cagewise.machine.winding_limits`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType


class Subject(StrEnum):
    """What a motor is sent for."""

    CAGE = "cage"
    WINDING = "winding"
    INSULATION = "insulation"
    BEARINGS = "bearings"


class Stage(StrEnum):
    """When something is checked."""

    ARRIVAL = "arrival"
    """As received: before dismantling."""
    OPENED = "opened"
    """Dismantled: before anything is cleaned, heated, burnt out or cut."""
    REPAIRED = "repaired"
    """Before it leaves the shop."""


class Check(StrEnum):
    """What is checked; each has its method in words."""

    RECEIPT = "receipt"
    RESISTANCE = "resistance"
    INSULATION = "insulation"
    DISSIPATION = "dissipation"
    SHAFT_RUNOUT = "shaft_runout"
    AIR_GAP = "air_gap"
    SINGLE_PHASE = "single_phase"
    ARRIVAL_RUN = "arrival_run"
    ROTOR_LOOK = "rotor_look"
    GROWLER = "growler"
    JOINTS = "joints"
    RINGS = "rings"
    CORE_LOOK = "core_look"
    CORE_LOSS = "core_loss"
    WINDING_LOOK = "winding_look"
    FITS = "fits"
    BEARINGS = "bearings"
    SHAFT = "shaft"
    BALANCE = "balance"
    OVERVOLTAGE = "overvoltage"
    TURNS = "turns"
    NO_LOAD = "no_load"
    VIBRATION = "vibration"


class Standing(StrEnum):
    """How a method or a limit was had."""

    CHECKED = "checked"
    """Read in the text named."""
    SECONDARY = "secondary"
    """Read in another text that attributes it to the standard."""
    MEMORY = "from memory"
    PRACTICE = "common practice, no source"
    JUDGEMENT = "our judgement"


@dataclass(frozen=True, slots=True)
class Rule:
    """A standard with its clause, and how it was had."""

    standard: str
    """Its designation and clause, the same in all languages; empty where there is none."""
    standing: Standing


_AR100 = "ANSI/EASA AR100-2020"
_PENETRANT = Rule("ISO 3452-1", Standing.MEMORY)
_PRACTICE = Rule("", Standing.PRACTICE)

RULES: Mapping[Check, tuple[Rule, ...]] = MappingProxyType(
    {
        Check.RECEIPT: (_PRACTICE,),
        Check.RESISTANCE: (Rule(_AR100, Standing.SECONDARY),),
        Check.INSULATION: (
            Rule("IEEE 43-2013 cl. 12.3, Table 3", Standing.SECONDARY),
            Rule("IEC 60034-27-4", Standing.MEMORY),
        ),
        Check.DISSIPATION: (Rule("IEC 60034-27-3:2015", Standing.MEMORY),),
        Check.SHAFT_RUNOUT: (Rule("NEMA MG 1-4.9", Standing.MEMORY),),
        Check.AIR_GAP: (Rule("API 541", Standing.MEMORY),),
        Check.SINGLE_PHASE: (
            Rule(f"{_AR100} 4.3.2", Standing.SECONDARY),
            Rule("IEEE 1415-2006", Standing.MEMORY),
        ),
        Check.ARRIVAL_RUN: (_PRACTICE,),
        Check.ROTOR_LOOK: (_PRACTICE,),
        Check.GROWLER: (Rule(f"{_AR100} 4.3.2", Standing.SECONDARY),),
        Check.JOINTS: (_PENETRANT, Rule("ISO 16810", Standing.MEMORY)),
        Check.RINGS: (_PENETRANT,),
        Check.CORE_LOOK: (_PRACTICE,),
        Check.CORE_LOSS: (
            Rule("ANSI/EASA AR100", Standing.MEMORY),
            Rule("IEEE 56", Standing.MEMORY),
        ),
        Check.WINDING_LOOK: (_PRACTICE,),
        Check.FITS: (
            Rule("ISO 286-2", Standing.MEMORY),
            Rule("ANSI/EASA AR100", Standing.MEMORY),
        ),
        Check.BEARINGS: (Rule("ISO 15243", Standing.MEMORY),),
        Check.SHAFT: (_PENETRANT,),
        Check.BALANCE: (Rule("ISO 21940-11", Standing.MEMORY),),
        Check.OVERVOLTAGE: (Rule("IEC 60034-1", Standing.MEMORY),),
        Check.TURNS: (
            Rule("IEEE 522-2004", Standing.MEMORY),
            Rule("IEC 60034-15", Standing.MEMORY),
        ),
        Check.NO_LOAD: (_PRACTICE,),
        Check.VIBRATION: (Rule("IEC 60034-14", Standing.SECONDARY),),
    }
)
"""Standards of the method, the one with the limit first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One check at one stage."""

    stage: Stage
    check: Check
    settles: bool
    """Whether it settles what the motor was sent for; the others are made while it is open."""
    answers: tuple[str, ...]
    """Keys of the questions of the return sheet that it answers."""


_OF: Mapping[Check, frozenset[Subject]] = MappingProxyType(
    {
        Check.RECEIPT: frozenset(),
        Check.RESISTANCE: frozenset({Subject.WINDING}),
        Check.INSULATION: frozenset({Subject.INSULATION, Subject.WINDING}),
        Check.DISSIPATION: frozenset({Subject.INSULATION}),
        Check.SHAFT_RUNOUT: frozenset({Subject.BEARINGS}),
        Check.AIR_GAP: frozenset({Subject.BEARINGS, Subject.CAGE}),
        Check.SINGLE_PHASE: frozenset({Subject.CAGE}),
        Check.ARRIVAL_RUN: frozenset({Subject.BEARINGS}),
        Check.ROTOR_LOOK: frozenset({Subject.CAGE}),
        Check.GROWLER: frozenset({Subject.CAGE}),
        Check.JOINTS: frozenset({Subject.CAGE}),
        Check.RINGS: frozenset({Subject.CAGE}),
        Check.CORE_LOOK: frozenset({Subject.CAGE, Subject.WINDING}),
        Check.CORE_LOSS: frozenset({Subject.WINDING}),
        Check.WINDING_LOOK: frozenset({Subject.WINDING, Subject.INSULATION}),
        Check.FITS: frozenset({Subject.BEARINGS}),
        Check.BEARINGS: frozenset({Subject.BEARINGS}),
        Check.SHAFT: frozenset({Subject.BEARINGS}),
        Check.BALANCE: frozenset({Subject.BEARINGS, Subject.CAGE}),
        Check.OVERVOLTAGE: frozenset({Subject.WINDING, Subject.INSULATION}),
        Check.TURNS: frozenset({Subject.WINDING}),
        Check.NO_LOAD: frozenset({Subject.WINDING}),
        Check.VIBRATION: frozenset({Subject.BEARINGS}),
    }
)
"""For which subjects a check settles something."""
_ALWAYS = frozenset(Subject)
_WOUND = frozenset({Subject.WINDING, Subject.INSULATION})

_Steps = Mapping[Check, tuple[frozenset[Subject], tuple[str, ...]]]
_ARRIVAL: _Steps = {
    Check.RECEIPT: (_ALWAYS, ("received_on", "arrival_remark")),
    Check.RESISTANCE: (
        _ALWAYS,
        ("arrival_ab_ohm", "arrival_bc_ohm", "arrival_ca_ohm", "arrival_winding_degc"),
    ),
    Check.INSULATION: (_ALWAYS, ("arrival_insulation_megaohm", "arrival_polarization_index")),
    Check.SHAFT_RUNOUT: (_ALWAYS, ("arrival_runout_mm",)),
    Check.AIR_GAP: (_ALWAYS, ("arrival_gap_min_mm", "arrival_gap_max_mm")),
    Check.SINGLE_PHASE: (
        _ALWAYS,
        ("arrival_single_phase_v", "arrival_single_phase_min_a", "arrival_single_phase_max_a"),
    ),
    Check.DISSIPATION: (frozenset({Subject.INSULATION}), ("arrival_remark",)),
    Check.ARRIVAL_RUN: (
        frozenset({Subject.BEARINGS}),
        ("arrival_vibration_de_mm_s", "arrival_vibration_nde_mm_s"),
    ),
}
_OPENED: _Steps = {
    Check.ROTOR_LOOK: (_ALWAYS, ("cage_found", "bar_material", "ring_material")),
    Check.GROWLER: (_ALWAYS, ("open_bars", "rotor_bars")),
    Check.JOINTS: (frozenset({Subject.CAGE}), ("joints_found",)),
    Check.RINGS: (frozenset({Subject.CAGE}), ("ring_cracked",)),
    Check.CORE_LOOK: (_ALWAYS, ("core_found", "stator_slots")),
    Check.CORE_LOSS: (_WOUND, ("core_loss_found_w_per_kg", "core_hot_spot_found_k")),
    Check.WINDING_LOOK: (_WOUND, ("winding_found", "coil_span_slots", "turns_per_coil")),
    Check.FITS: (_ALWAYS, ("seat_de_mm", "seat_nde_mm", "housing_de_mm", "housing_nde_mm")),
    Check.BEARINGS: (_ALWAYS, ("bearing_de", "bearing_nde", "bearings_found")),
    Check.SHAFT: (
        frozenset({Subject.CAGE, Subject.BEARINGS}), ("rotor_runout_mm", "shaft_cracked")
    ),
    Check.BALANCE: (frozenset({Subject.CAGE, Subject.BEARINGS}), ("unbalance_found_gmm",)),
}  # fmt: skip
_REPAIRED: _Steps = {
    Check.GROWLER: (frozenset({Subject.CAGE}), ("repaired_growler",)),
    Check.JOINTS: (frozenset({Subject.CAGE}), ("repaired_remark",)),
    Check.BALANCE: (frozenset({Subject.CAGE, Subject.BEARINGS}), ("unbalance_repaired_gmm",)),
    Check.CORE_LOSS: (
        frozenset({Subject.WINDING}),
        ("core_loss_repaired_w_per_kg", "core_hot_spot_repaired_k"),
    ),
    Check.RESISTANCE: (
        _ALWAYS,
        ("repaired_ab_ohm", "repaired_bc_ohm", "repaired_ca_ohm", "repaired_winding_degc"),
    ),
    Check.INSULATION: (_ALWAYS, ("repaired_insulation_megaohm", "repaired_polarization_index")),
    Check.TURNS: (_WOUND, ("repaired_surge_v", "repaired_surge")),
    Check.DISSIPATION: (_WOUND, ("repaired_remark",)),
    Check.OVERVOLTAGE: (_WOUND, ("repaired_overvoltage_v",)),
    Check.SHAFT_RUNOUT: (_ALWAYS, ("repaired_runout_mm",)),
    Check.AIR_GAP: (_ALWAYS, ("repaired_gap_min_mm", "repaired_gap_max_mm")),
    Check.SINGLE_PHASE: (
        frozenset({Subject.CAGE}),
        ("repaired_single_phase_v", "repaired_single_phase_min_a", "repaired_single_phase_max_a"),
    ),
    Check.NO_LOAD: (
        _ALWAYS,
        ("no_load_ab_v", "no_load_bc_v", "no_load_ca_v", "no_load_a_a", "no_load_b_a",
         "no_load_c_a", "no_load_kw"),
    ),
    Check.VIBRATION: (_ALWAYS, ("repaired_vibration_de_mm_s", "repaired_vibration_nde_mm_s")),
}  # fmt: skip
_STAGES: Mapping[Stage, _Steps] = {
    Stage.ARRIVAL: _ARRIVAL,
    Stage.OPENED: _OPENED,
    Stage.REPAIRED: _REPAIRED,
}


def steps_for(subjects: frozenset[Subject], *, dissipation: bool = False) -> tuple[Step, ...]:
    """Return what a shop checks of a motor, stage by stage in the order of work.

    Parameters
    ----------
    subjects
        What it is sent for.
    dissipation
        Whether the dissipation factor of its winding is worth measuring.
    """
    return tuple(
        Step(stage=stage, check=check, settles=bool(_OF[check] & subjects), answers=answers)
        for stage, steps in _STAGES.items()
        for check, (wanted, answers) in steps.items()
        if wanted & subjects and (check is not Check.DISSIPATION or dissipation)
    )


class Hold(StrEnum):
    """What may not be done without the customer's word."""

    RUN = "run"
    """Starting it at full voltage."""
    DISMANTLE = "dismantle"
    CLEAN = "clean"
    STRIP = "strip"
    DESIGN = "design"
    OVERVOLTAGE = "overvoltage"
    ASSEMBLE = "assemble"
    SHIP = "ship"
    SCRAP = "scrap"


_HELD: Mapping[Hold, frozenset[Subject]] = MappingProxyType(
    {
        Hold.RUN: frozenset({Subject.CAGE, Subject.WINDING, Subject.INSULATION}),
        Hold.DISMANTLE: _ALWAYS,
        Hold.CLEAN: _ALWAYS,
        Hold.STRIP: _WOUND,
        Hold.DESIGN: _ALWAYS,
        Hold.OVERVOLTAGE: _ALWAYS,
        Hold.ASSEMBLE: _ALWAYS,
        Hold.SHIP: _ALWAYS,
        Hold.SCRAP: _ALWAYS,
    }
)


def holds_for(subjects: frozenset[Subject]) -> tuple[Hold, ...]:
    """Return the hold points, in the order of work."""
    return tuple(hold for hold, of in _HELD.items() if of & subjects)
