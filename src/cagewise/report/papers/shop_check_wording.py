"""Words of the checks of a repair shop: what, how, and what counts as good."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from cagewise.decision.repair_specification import LimitKind
from cagewise.decision.shop_checks import Check, Stage, Standing

NAME: Mapping[Check, str] = MappingProxyType(
    {
        Check.RECEIPT: "As received",
        Check.RESISTANCE: "Winding resistance",
        Check.INSULATION: "Insulation resistance",
        Check.DISSIPATION: "Dissipation factor",
        Check.SHAFT_RUNOUT: "Shaft run-out and end float",
        Check.AIR_GAP: "Air gap",
        Check.SINGLE_PHASE: "Single-phase rotation test",
        Check.ARRIVAL_RUN: "Run uncoupled",
        Check.ROTOR_LOOK: "Rotor: look, mark, count",
        Check.GROWLER: "Growler test, bar by bar",
        Check.JOINTS: "Joints of bar and ring",
        Check.RINGS: "End rings",
        Check.CORE_LOOK: "Laminations",
        Check.CORE_LOSS: "Core loss test",
        Check.WINDING_LOOK: "Winding: find the fault",
        Check.FITS: "Bearing seats and housings",
        Check.BEARINGS: "Bearings",
        Check.SHAFT: "Shaft",
        Check.BALANCE: "Balance of the rotor",
        Check.OVERVOLTAGE: "Overvoltage test",
        Check.TURNS: "Turn comparison (surge)",
        Check.NO_LOAD: "No-load run",
        Check.VIBRATION: "Vibration at no load",
    }
)
"""What is checked."""

METHOD: Mapping[tuple[Stage, Check], str] = MappingProxyType(
    {
        (Stage.ARRIVAL, Check.RECEIPT): "Photograph all sides, terminal box, shaft end and "
        "coupling; the nameplate so that it can be read. Mark drive end, direction of turning and "
        "position of both end shields. Note what is missing or damaged by transport.",
        (Stage.ARRIVAL, Check.RESISTANCE): "Four-wire, between all three pairs of terminals, "
        "links as received. Winding temperature beside it.",
        (Stage.ARRIVAL, Check.INSULATION): "Whole winding to earth, 1 minute, dirty as it is. "
        "Winding temperature and humidity beside it. Where a polarization index has a limit, read "
        "again at 10 minutes.",
        (Stage.ARRIVAL, Check.DISSIPATION): "Whole winding to earth, in steps of a fifth of rated "
        "voltage up to the rated phase-to-earth voltage. Only if the insulation resistance passed.",
        (Stage.ARRIVAL, Check.SHAFT_RUNOUT): "Dial gauge at the middle of the shaft extension, "
        "turn once by hand. Push and pull the shaft: note the end float. Feel and hear the "
        "bearings.",
        (Stage.ARRIVAL, Check.AIR_GAP): "Where end shields have openings: feeler gauges at four "
        "places 90 degrees apart, both ends; then with the rotor turned by 180 degrees.",
        (Stage.ARRIVAL, Check.SINGLE_PHASE): "Assembled, uncoupled, winding proved first. "
        "Alternating voltage between two leads, third lead open. Turn the shaft slowly through one "
        "whole turn and read the smallest and the largest current. Keep it short: nothing cools.",
        (Stage.ARRIVAL, Check.ARRIVAL_RUN): "Only if insulation and single-phase test passed: at "
        "reduced voltage, uncoupled. Velocity at both bearing housings, horizontal, vertical, "
        "axial, with the spectrum; bearing temperatures.",
        (Stage.OPENED, Check.ROTOR_LOOK): "Photograph both end rings all round and the surface of "
        "the rotor, dirt and all. Mark the bar in line with the keyway (or a punch mark) as "
        "number 1 and count all bars seen from the drive end, clockwise. Note blue or burnt "
        "places, arc marks, bars that stand out, lifted bars, moved balance weights.",
        (Stage.OPENED, Check.GROWLER): "Every bar over its whole length, against its neighbours: "
        "iron leaf or film, or a search coil with a reading. Warm the rotor only after the cold "
        "pass, and write down both. Enter every bar into the bar map.",
        (Stage.OPENED, Check.JOINTS): "Fabricated cage: dye penetrant on every joint of bar and "
        "ring, both ends, or ultrasonic from the outside of the ring. Tap each bar end: a dull "
        "one is loose. Cast cage: ultrasonic or radiograph for voids where the growler differs.",
        (Stage.OPENED, Check.RINGS): "Dye penetrant all round, both rings, with the joints of the "
        "rings themselves. Measure the run-out and the largest distance from bar to bar.",
        (Stage.OPENED, Check.CORE_LOOK): "Rotor and stator: rub marks, discoloured or fused "
        "laminations, loose packs and teeth, blocked ducts. Photograph with a scale.",
        (Stage.OPENED, Check.CORE_LOSS): "Loop around the core, before anything is burnt out. "
        "Watts per kilogram of core, and the surface with a thermal camera after 30 minutes.",
        (Stage.OPENED, Check.WINDING_LOOK): "Before stripping: phase, coil and place of the "
        "fault, photographed; turn to turn, phase to phase or to earth; trace of moisture, dirt, "
        "tracking or overheating. Take the winding data while it is whole.",
        (Stage.OPENED, Check.FITS): "Shaft seats and housing bores at three places round and two "
        "along, at room temperature. Write the tolerance of the bearing maker beside each.",
        (Stage.OPENED, Check.BEARINGS): "Pull with care, mark position and direction, keep. Note "
        "designations. Open them: photograph raceways, rolling elements, cage and grease; look for "
        "the ripple pattern of current through the bearing.",
        (Stage.OPENED, Check.SHAFT): "Between centres: run-out at both seats, rotor body and "
        "extension. Dye penetrant at keyway, shoulders and under the spider arms.",
        (Stage.OPENED, Check.BALANCE): "Residual unbalance as found, both planes, before weights "
        "are touched. Place of all weights.",
        (Stage.REPAIRED, Check.GROWLER): "Every bar again, cold; bar map again.",
        (Stage.REPAIRED, Check.JOINTS): "Dye penetrant or ultrasonic on every new joint, after it "
        "has cooled and before the rotor is balanced.",
        (Stage.REPAIRED, Check.BALANCE): "Two planes, with the half key of the coupling.",
        (Stage.REPAIRED, Check.CORE_LOSS): "The same test with the same flux, after stripping and "
        "cleaning, before the first coil.",
        (Stage.REPAIRED, Check.RESISTANCE): "As on arrival, at the temperature of the hall for a "
        "whole day.",
        (Stage.REPAIRED, Check.INSULATION): "As on arrival; before any overvoltage, and after.",
        (Stage.REPAIRED, Check.TURNS): "Compare all three pairs at the same voltage. Send the "
        "waveforms, not only a word.",
        (Stage.REPAIRED, Check.DISSIPATION): "As on arrival. Later tests are compared with it.",
        (Stage.REPAIRED, Check.OVERVOLTAGE): "Once, after all others passed; voltages below.",
        (Stage.REPAIRED, Check.SHAFT_RUNOUT): "Assembled: as on arrival.",
        (Stage.REPAIRED, Check.AIR_GAP): "Assembled: as on arrival.",
        (Stage.REPAIRED, Check.SINGLE_PHASE): "As on arrival, with the same voltage.",
        (Stage.REPAIRED, Check.NO_LOAD): "Rated voltage and frequency, uncoupled, until the "
        "bearings hold their temperature. All three voltages, currents and the input power; "
        "bearing temperatures.",
        (Stage.REPAIRED, Check.VIBRATION): "During the no-load run, both bearing housings, three "
        "directions, with the spectra. Say how the motor stood.",
    }
)
"""How, by the stage."""

GOOD: Mapping[tuple[Stage, Check], str] = MappingProxyType(
    {
        (Stage.ARRIVAL, Check.RECEIPT): "Complete; nothing cleaned or turned before.",
        (Stage.ARRIVAL, Check.DISSIPATION): "No limit for a winding in use; send all readings.",
        (Stage.ARRIVAL, Check.ARRIVAL_RUN): "No limit: the record of what was sent.",
        (Stage.OPENED, Check.ROTOR_LOOK): "No limit: what is seen is the finding.",
        (Stage.OPENED, Check.GROWLER): "All bars alike. One that answers weaker than its "
        "neighbours is open or has a bad joint.",
        (Stage.OPENED, Check.JOINTS): "No indication; no dull bar.",
        (Stage.OPENED, Check.RINGS): "No crack; no open joint of a ring.",
        (Stage.OPENED, Check.CORE_LOOK): "No fused or loose laminations.",
        (Stage.OPENED, Check.WINDING_LOOK): "No limit: what is seen is the finding.",
        (Stage.OPENED, Check.FITS): "Tolerance class of the bearing maker; usually k5 to m6 on "
        "the shaft and H6 to J7 in the housing.",
        (Stage.OPENED, Check.BEARINGS): "No ripple pattern, no spalling, no wrong fit.",
        (Stage.OPENED, Check.SHAFT): "No crack. Run-out of the extension as on arrival.",
        (Stage.REPAIRED, Check.GROWLER): "All bars alike.",
        (Stage.REPAIRED, Check.JOINTS): "No indication.",
        (Stage.REPAIRED, Check.TURNS): "Waveforms lie over each other. No standard has a limit "
        "for the difference: any that shows is to be explained.",
        (Stage.REPAIRED, Check.OVERVOLTAGE): "No breakdown, no rising current.",
        (Stage.REPAIRED, Check.SINGLE_PHASE): "Smaller than on arrival.",
    }
)
"""What counts as good, where it is no number, or beside one."""

LIMIT: Mapping[LimitKind, str] = MappingProxyType(
    {
        LimitKind.UNBALANCE_FORM: "Largest deviation from the mean at most {percent} % "
        "(form-wound).",
        LimitKind.UNBALANCE_RANDOM: "Largest deviation from the mean at most {percent} % "
        "(random-wound).",
        LimitKind.INSULATION_VOLTAGE: "Test voltage {volts} V d.c.",
        LimitKind.INSULATION_MIN: "At 1 min and 40 °C at least {value} ({form}).",
        LimitKind.POLARIZATION_MIN: "Polarization index at least {value} (thermal class {form}).",
        LimitKind.POLARIZATION_CEILING: "No index is asked for above {value}.",
        LimitKind.DISSIPATION_NEW: "New form-wound coils: tan δ at 0.2 of rated voltage at most "
        "{first} \N{MULTIPLICATION SIGN} 10⁻³, half its rise to 0.6 at most {second} "
        "\N{MULTIPLICATION SIGN} 10⁻³. A reference for others.",
        LimitKind.RUNOUT: "At most {value} mm, total reading.",
        LimitKind.AIR_GAP: "Within {percent} % of the mean.",
        LimitKind.SINGLE_PHASE_VOLTAGE: "Voltage {volts} V; current below rated.",
        LimitKind.SINGLE_PHASE_VARIATION: "Largest less smallest over the mean: below {low} % no "
        "sign; above {high} % a sign of open bars. Sources conflict: guidance, no limit.",
        LimitKind.CORE_FLUX: "Flux density {value} T.",
        LimitKind.CORE_RISE: "After stripping at most {percent} % above before.",
        LimitKind.CORE_SPOT: "No spot more than {value} K above the mean.",
        LimitKind.BALANCE: "Grade G {grade}: at most {per_kg} g mm per kg of rotor.",
        LimitKind.NO_LOAD_VOLTAGE: "Voltages within {percent} % of their mean.",
        LimitKind.NO_LOAD_CURRENT: "Currents within {percent} % of their mean.",
        LimitKind.NO_LOAD_EXPECTED: "Expected of this motor: {value} A ({low} to {high} A), from "
        "its nameplate. No limit.",
        LimitKind.VIBRATION_FREE: "On soft mounts {first} / {second} / {third} mm/s rms for shaft "
        "heights to 132 / to 280 / above 280 mm.",
        LimitKind.VIBRATION_RIGID: "Rigid {first} / {second} / {third} mm/s rms.",
    }
)
CORRECTED = "Brought to 40 °C: times {factors} at {temperatures} °C (thermosetting insulation)."

STANDING: Mapping[Standing, str] = MappingProxyType(
    {
        Standing.CHECKED: "checked",
        Standing.SECONDARY: "secondary",
        Standing.MEMORY: "from memory",
        Standing.PRACTICE: "common practice, no source",
        Standing.JUDGEMENT: "our judgement",
    }
)
RULE = "{standard} ({standing})"
LIMIT_WITH_RULE = "{limit} [{rule}]"
SPAN = "{low} to {high}"
SETTLES = "{name} ◆"
"""A check that settles what the motor was sent for."""
