"""The motors of a plant on the screen."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from cagewise.cli.counting import counted
from cagewise.cli.options import PageOptions
from cagewise.cli.render import console_of
from cagewise.cli.streams import Streams
from cagewise.decision.costs_policies import CostAction
from cagewise.report import history_wording as words
from cagewise.report.cost_wording import NAME as ACTIONS
from cagewise.report.history_text import day_of
from cagewise.report.list_table import write_table
from cagewise.report.missing_wording import MISSING
from cagewise.report.numbers import bars, power
from cagewise.report.page import STYLE_DIM, STYLE_HEADING, Page, page_on
from cagewise.report.ranking_text import next_of, part_state
from cagewise.workflows.plant_folder import USUAL, VARIABLE

if TYPE_CHECKING:
    from cagewise.history.plant_risk import RankedMotor
    from cagewise.report.history_views import RankingView
    from cagewise.store import (
        Event,
        ExaminationKeys,
        KeptExamination,
        MotorEntry,
        NameplateVersion,
        Sensor,
    )
    from cagewise.store.plant_file import PlantFile
    from cagewise.workflows.plant_choice import ListedMotors
    from cagewise.workflows.plant_motors import ShownMotor, VisitCount

MOST_VISITS = 12
"""Visits that are shown."""

MADE = "{folder}: a new plant."
CALENDAR = "Its calendar is that of {zone} (`time_zone` in plant.toml)."
FOUND = "It is found from here without being named."
TO_FIND = "Name it with --plant {folder}, or once with {variable}={folder}."
NEXT = 'Next: "cagewise motor add motor.toml", then "cagewise import FILES --motor TAG".'
ADDED = "{tag}{site}: added, {power}, as it was on {day}"
EDITED = "{tag}: version of {day} kept; the earlier ones stay"
NO_MOTORS = 'There is no motor yet: "cagewise motor add motor.toml".'
RATED = (
    "{power}, {plate.rated_voltage_v:g} V, {plate.rated_current_a:g} A, "
    "{plate.rated_frequency_hz:g} Hz"
)
HEADS = (
    "motor", "site", "rated", "criticality", "measured", "cage", "winding", "insulation", "due",
    "next", "description",
)  # fmt: skip
SPARE = ("description", "criticality", "rated", "measured", "next")
"""Columns that a narrow page leaves out; "motor show" has them."""
METHODS = "{methods} of 6 methods (independent classes: {classes})"
SERIAL = "serial {serial}"
RATIO = "ratio {ratio:g}"
MOUNTED = "mounted {day}"
CALIBRATED = "calibrated {day}"
REMOVED = "removed {day}"
NEVER_CALIBRATED = "no calibration noted"
OLDER = "{count} older visits are not shown."
NOTHING_MISSING = "Nothing that the examination could use."


def show_new_plant(folder: Path, about: PlantFile, page: PageOptions, streams: Streams) -> None:
    """Say what was made and what comes next."""
    screen = page_on(*console_of(page, streams))
    found = folder.resolve() == USUAL.resolve()
    named = shlex.quote(str(folder))
    screen.paragraph(MADE.format(folder=folder), indent=0, style=STYLE_HEADING)
    screen.paragraph(CALENDAR.format(zone=about.time_zone))
    screen.paragraph(FOUND if found else TO_FIND.format(folder=named, variable=VARIABLE))
    screen.paragraph(NEXT)


def show_added(added: Sequence[MotorEntry], page: PageOptions, streams: Streams) -> None:
    """Say which motors were added."""
    screen = page_on(*console_of(page, streams))
    for motor in added:
        site = f" ({motor.site})" if motor.site else ""
        text = ADDED.format(
            tag=motor.tag, site=site, power=power(motor.rated_power_w), day=motor.valid_from
        )
        screen.paragraph(text, indent=0)


def show_edited(
    motor: MotorEntry, version: NameplateVersion, page: PageOptions, streams: Streams
) -> None:
    """Say which version was added."""
    screen = page_on(*console_of(page, streams))
    screen.paragraph(EDITED.format(tag=motor.tag, day=version.valid_from), indent=0)


def show_list(
    listed: ListedMotors, page: PageOptions, streams: Streams, *, most: int | None = None
) -> None:
    """List motors with their latest examination and what is due."""
    screen = page_on(*console_of(page, streams))
    view = listed.view
    motors = view.ranking.motors
    if not motors:
        screen.paragraph(words.NONE_SHOWN if listed.entries else NO_MOTORS, indent=0)
        return
    rows = [_row(view, listed.entries[motor.tag], motor) for motor in motors[:most]]
    write_table(screen, HEADS, rows, spare=SPARE)
    if len(motors) < view.in_all:
        screen.paragraph(words.SHOWN_OF.format(count=len(motors), in_all=view.in_all))
    if most is not None and len(motors) > most:
        screen.paragraph(words.LEFT_OUT.format(count=len(motors) - most), style=STYLE_DIM)


def show_motor(shown: ShownMotor, page: PageOptions, streams: Streams) -> None:
    """Show what the plant knows of one motor."""
    screen = page_on(*console_of(page, streams))
    title = f"{shown.entry.tag}, {shown.motor.description}".rstrip(", ")
    screen.paragraph(title, indent=0, style=STYLE_HEADING)
    _write_nameplate(shown, screen)
    screen.heading("Versions of the motor file")
    screen.fact_table([(f"from {each.valid_from}", _said(each, shown)) for each in shown.versions])
    screen.heading("Visits")
    if shown.visits:
        screen.fact_table([(str(each.visit.day), _visit(each)) for each in shown.visits])
    else:
        command = f'"cagewise import FILES --motor {shlex.quote(shown.entry.tag)}"'
        screen.paragraph(f"None yet: {command}.")
    if shown.visits_in_all > len(shown.visits):
        older = shown.visits_in_all - len(shown.visits)
        screen.paragraph(OLDER.format(count=older), style=STYLE_DIM)
    if shown.latest is not None:
        screen.heading(f"Latest examination, visit of {shown.latest.day}")
        screen.fact_table(_examined(shown.latest))
    if shown.sensors:
        screen.heading("Sensors")
        screen.fact_table([(each.name, sensor_facts(each)) for each in shown.sensors])
    if shown.notes:
        screen.heading("Notes")
        screen.fact_table([(str(each.day), _note(each)) for each in shown.notes])
    screen.heading("What is missing")
    for item in shown.missing:
        screen.paragraph(MISSING[item], first="- ")
    if not shown.missing:
        screen.paragraph(NOTHING_MISSING)


def _row(view: RankingView, motor: MotorEntry, ranked: RankedMotor) -> tuple[str, ...]:
    """Return one line of the list."""
    latest = view.latest.get(ranked.tag)
    keys = None if latest is None else latest.keys
    return (
        motor.tag,
        motor.site,
        power(motor.rated_power_w),
        motor.criticality,
        "" if latest is None else str(latest.day),
        view.cage_state(ranked),
        "" if keys is None else _beside(keys.winding),
        "" if keys is None else _beside(keys.insulation),
        words.NOW if latest is None else day_of(ranked.due_on).isoformat(),
        next_of(view, ranked)[0],
        motor.description,
    )


def _beside(state: str | None) -> str:
    """Return the state of a part beside the cage, nothing where it was not tested."""
    return "" if state == "" else part_state(state)


def _action(keys: ExaminationKeys) -> str:
    """Return what to do, with its day where one was set."""
    known = keys.action in set(CostAction)
    words = ACTIONS[CostAction(keys.action)] if known else keys.action
    return words if keys.act_by_latest is None else f"{words} by {keys.act_by_latest}"


def _load(keys: ExaminationKeys) -> str:
    """Return the load with its interval."""
    load = f"{100.0 * (keys.load_fraction or 0.0):.0f} % of rated"
    if keys.load_fraction_low is None or keys.load_fraction_high is None:
        return load
    return f"{load} ({100.0 * keys.load_fraction_low:.0f} to {100.0 * keys.load_fraction_high:.0f})"


def sensor_facts(sensor: Sensor) -> str:
    """Return what is known of a sensor."""
    calibrated = sensor.calibrated_on
    removed = sensor.removed_on
    parts = (
        sensor.role,
        SERIAL.format(serial=sensor.serial) if sensor.serial else "",
        "" if sensor.ratio is None else RATIO.format(ratio=sensor.ratio),
        "" if sensor.mounted_on is None else MOUNTED.format(day=sensor.mounted_on),
        NEVER_CALIBRATED if calibrated is None else CALIBRATED.format(day=calibrated),
        "" if removed is None else REMOVED.format(day=removed),
        sensor.note,
    )
    return ", ".join(part for part in parts if part)


def _note(event: Event) -> str:
    """Return a note on the motor itself."""
    return f"{event.text} [{event.author}]" if event.author else event.text


def _write_nameplate(shown: ShownMotor, screen: Page) -> None:
    """Write the nameplate."""
    plate, cage = shown.motor.nameplate, shown.motor.cage
    rows = [
        ("site", shown.entry.site),
        ("rated", RATED.format(power=power(plate.rated_power_w), plate=plate)),
        ("speed", f"{plate.rated_speed_rpm:g} r/min, {plate.poles} poles"),
        ("rotor bars", "" if cage.rotor_bars is None else str(cage.rotor_bars)),
        ("criticality", shown.entry.criticality),
        ("next outage", str(shown.entry.next_outage or "")),
    ]
    screen.fact_table([row for row in rows if row[1]])
    for warning in shown.motor.warnings:
        screen.paragraph(warning, style=STYLE_DIM)


def _said(version: NameplateVersion, shown: ShownMotor) -> str:
    """Return what is to be said of one version."""
    force = "in force" if version.id == shown.version.id else ""
    parts = (force, version.note, f"written down on {version.added_at.date()}")
    return ", ".join(part for part in parts if part)


def _visit(each: VisitCount) -> str:
    """Return what was measured on a visit, and what it said."""
    kept = counted((each.recordings, "recording"), (each.sheets, "test sheet")) or "nothing kept"
    state = "not examined" if each.examination is None else each.examination.keys.state
    return f"{kept}: {state}"


def _examined(latest: KeptExamination) -> list[tuple[str, str]]:
    """Return the key numbers of an examination."""
    keys = latest.keys
    rows = [("cage", keys.state)]
    if keys.probability is not None:
        rows.append(("probability of a defect", f"{100.0 * keys.probability:.0f} %"))
    if None not in (keys.open_bars, keys.open_bars_low, keys.open_bars_high):
        low, high = bars(keys.open_bars_low or 0.0), bars(keys.open_bars_high or 0.0)
        rows.append(("open bars", f"{bars(keys.open_bars or 0.0)} ({low} to {high}, 95 %)"))
    if keys.methods_agreeing is not None and keys.classes_agreeing is not None:
        said = METHODS.format(methods=keys.methods_agreeing, classes=keys.classes_agreeing)
        rows.append(("for a defect", said))
    if keys.load_fraction is not None:
        rows.append(("load", _load(keys)))
    rows += [
        (part, part_state(state))
        for part, state in (("winding", keys.winding), ("insulation", keys.insulation))
        if state != ""
    ]
    rows.append(("action", _action(keys)))
    rows.append(("made by version", latest.program_version))
    return rows
