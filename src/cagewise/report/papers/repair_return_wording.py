"""Words of the return sheet of a repair shop: questions, notes, and what was understood of it."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from cagewise.decision.repair_specification import LimitKind
from cagewise.measurement.repair_return import Section

SECTION: Mapping[Section, str] = MappingProxyType(
    {
        Section.JOB: "The job",
        Section.ARRIVAL: "As received",
        Section.FOUND: "Found in the open motor",
        Section.COUNTED: "Counted and read while it is open",
        Section.WINDING: "Winding data",
        Section.BEARINGS: "Bearings and fits, measured",
        Section.REPAIRED: "After the repair",
    }
)

ASKED = "Asked"
ANSWER = "Answer"
QUESTION: Mapping[str, str] = MappingProxyType(
    {
        "shop": "Repair shop",
        "filled_in_by": "Filled in by",
        "order_number": "Order number",
        "received_on": "Received on (year-month-day)",
        "repaired_on": "Repair finished on (year-month-day)",
        "repair_kind": "Kind of repair: cage, rewind, bearings, other",
        "action": "What was done",
        "arrival_ab_ohm": "Winding resistance 1-2, Ω",
        "arrival_bc_ohm": "Winding resistance 2-3, Ω",
        "arrival_ca_ohm": "Winding resistance 3-1, Ω",
        "arrival_winding_degc": "Winding temperature, °C",
        "arrival_insulation_megaohm": "Insulation resistance after 1 min, MΩ",
        "arrival_polarization_index": "Polarization index, 10 min over 1 min",
        "arrival_runout_mm": "Run-out of the shaft extension, mm",
        "arrival_gap_min_mm": "Air gap, smallest, mm",
        "arrival_gap_max_mm": "Air gap, largest, mm",
        "arrival_single_phase_v": "Single-phase test: voltage, V",
        "arrival_single_phase_min_a": "Single-phase test: smallest current, A",
        "arrival_single_phase_max_a": "Single-phase test: largest current, A",
        "arrival_vibration_de_mm_s": "Vibration at the drive end, largest, mm/s rms",
        "arrival_vibration_nde_mm_s": "Vibration at the other end, largest, mm/s rms",
        "arrival_remark": "Remarks on arrival",
        "cage_found": "The cage was: damaged, sound, not opened",
        "open_bars": "Bars fully open, counted",
        "joints_found": "Joints: where are indications",
        "ring_cracked": "A ring is cracked: yes or no",
        "core_found": "Laminations: what was seen, where",
        "core_loss_found_w_per_kg": "Core loss before stripping, W/kg",
        "core_hot_spot_found_k": "Hottest spot above the mean, K",
        "rotor_runout_mm": "Run-out of the rotor body, mm",
        "shaft_cracked": "The shaft is cracked: yes or no",
        "unbalance_found_gmm": "Unbalance as found, larger plane, g mm",
        "winding_found": "Winding: which fault, where",
        "bearings_found": "Bearings: what was seen",
        "rotor_bars": "Number of rotor bars",
        "stator_slots": "Number of stator slots",
        "rotor_slots": "Rotor slots: open, closed",
        "cage_construction": "Cage: fabricated, cast",
        "bar_material": "Bars: copper, brass, bronze, aluminium, other",
        "ring_material": "Rings: copper, brass, bronze, aluminium, other",
        "rotor_axial_ducts": "Axial ducts in the rotor, number (0: none)",
        "rotor_spider_arms": "Arms of the rotor spider, number (0: none)",
        "rotor_skew_slots": "Skew of the rotor, in stator slots (0: straight)",
        "coil_span_slots": "Coil span, slots (slot 1 to slot 9 is a span of 8)",
        "turns_per_coil": "Turns per coil",
        "parallel_circuits": "Parallel circuits per phase",
        "connection": "Connection: wye, delta",
        "winding_construction": "Winding: form, random",
        "winding_insulation": "Insulation: thermosetting, thermoplastic",
        "winding_conductor": "Conductor: copper, aluminium",
        "concentric": "Concentric coils: yes or no",
        "thermal_class": "Thermal class: A, E, B, F, H",
        "winding_built_year": "Year the winding was made",
        "bearing_de": "Bearing at the drive end, designation",
        "bearing_nde": "Bearing at the other end, designation",
        "seat_de_mm": "Shaft seat at the drive end, mm",
        "seat_nde_mm": "Shaft seat at the other end, mm",
        "housing_de_mm": "Housing bore at the drive end, mm",
        "housing_nde_mm": "Housing bore at the other end, mm",
        "repaired_ab_ohm": "Winding resistance 1-2, Ω",
        "repaired_bc_ohm": "Winding resistance 2-3, Ω",
        "repaired_ca_ohm": "Winding resistance 3-1, Ω",
        "repaired_winding_degc": "Winding temperature, °C",
        "repaired_insulation_megaohm": "Insulation resistance after 1 min, MΩ",
        "repaired_polarization_index": "Polarization index, 10 min over 1 min",
        "repaired_surge_v": "Turn comparison: crest voltage, V",
        "repaired_surge": "Waveforms: alike, differ",
        "repaired_overvoltage_v": "Overvoltage test: voltage, V",
        "core_loss_repaired_w_per_kg": "Core loss after stripping, W/kg",
        "core_hot_spot_repaired_k": "Hottest spot above the mean, K",
        "repaired_growler": "Growler: all alike, not alike",
        "unbalance_repaired_gmm": "Unbalance left, larger plane, g mm",
        "repaired_runout_mm": "Run-out of the shaft extension, mm",
        "repaired_gap_min_mm": "Air gap, smallest, mm",
        "repaired_gap_max_mm": "Air gap, largest, mm",
        "repaired_single_phase_v": "Single-phase test: voltage, V",
        "repaired_single_phase_min_a": "Single-phase test: smallest current, A",
        "repaired_single_phase_max_a": "Single-phase test: largest current, A",
        "no_load_ab_v": "No load: voltage 1-2, V",
        "no_load_bc_v": "No load: voltage 2-3, V",
        "no_load_ca_v": "No load: voltage 3-1, V",
        "no_load_a_a": "No load: current 1, A",
        "no_load_b_a": "No load: current 2, A",
        "no_load_c_a": "No load: current 3, A",
        "no_load_kw": "No load: input power, kW",
        "repaired_vibration_de_mm_s": "Vibration at the drive end, largest, mm/s rms",
        "repaired_vibration_nde_mm_s": "Vibration at the other end, largest, mm/s rms",
        "repaired_remark": "Remarks after the repair",
    }
)
"""What is asked, with the unit of the answer."""

FORM_NOTES: tuple[str, ...] = (
    "Write each answer beside its name. Empty means not measured; never write 0 for that.",
    "The names stay as they are. Numbers without their unit, as in 0.0412.",
    "One line for each damaged bar: number, open or cracked, drive end or slot or other end.",
    "Photographs: one file name per line; put the files beside this one.",
)

PHOTOGRAPHS = "Photographs: file names"

# what was understood, on the terminal and the page

READ = "{motor}, case {case}: {answers} answers, {bars} damaged bars, {photographs} photographs"
UNDERSTOOD = "Understood"
REPAIR_KEPT = "Repair of {day}: {action} ({kind})"
OUTCOME_KEPT = "Cage as found: {found}; fully open: {bars}"
NOT_COUNTED = "not counted"
CHANGES = "The motor file would become, from {day} on"
CHANGE = "{key}: {before} becomes {after}"
ADDED = "{key}: {after} (was not known)"
NO_CHANGES = "Nothing in it changes the motor file."
OWED = "Still owed by the shop"
NOTHING_OWED = "The shop owes no answer."
BEYOND = "Beyond the limits of the specification"
BEYOND_LINE = "{what}: {value}, limit {limit}"
PERCENT = "{value} %"
NOTHING_BEYOND = "Nothing that was returned lies beyond a limit of the specification."
PHOTOGRAPHS_MISSING = "Not beside the sheet: {names}"
WARNINGS = "Look at this again"
KEPT = "Kept in case {case}."
MOTOR_FILE_KEPT = "The new motor file counts from {day} on."
MOTOR_FILE_NOT_KEPT = 'The motor file is unchanged. To take it over: add "--motor-file".'
CHECKED_ONLY = "Nothing was kept: this was a check."
KEPT_BEFORE = "This sheet is in case {case} already; nothing was added."
CARRIED = "Kept from the sheet before it: {names}"
DROPPED = "{key}: {before} is dropped (it is of the old bearing)"
INTERIM = "The sheet does not say yet what was done: it is kept as a remark."
BEYOND_WHAT: Mapping[LimitKind, str] = MappingProxyType(
    {
        LimitKind.UNBALANCE_FORM: "Unbalance of the winding resistances",
        LimitKind.UNBALANCE_RANDOM: "Unbalance of the winding resistances",
        LimitKind.INSULATION_MIN: "Insulation resistance at 40 °C",
        LimitKind.RUNOUT: "Run-out of the shaft extension, mm",
        LimitKind.AIR_GAP: "Deviation of the air gap",
        LimitKind.CORE_RISE: "Rise of the core loss",
        LimitKind.CORE_SPOT: "Hottest spot of the core, K",
        LimitKind.NO_LOAD_VOLTAGE: "Unbalance of the no-load voltages",
        LimitKind.NO_LOAD_CURRENT: "Unbalance of the no-load currents",
    }
)
