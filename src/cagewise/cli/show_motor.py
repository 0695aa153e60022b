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
from cagewise.cli.tables import write_table
from cagewise.decision.costs_policies import CostAction
from cagewise.report.cost_wording import NAME as ACTIONS
from cagewise.report.missing_wording import MISSING
from cagewise.report.numbers import bars, power
from cagewise.report.page import STYLE_DIM, STYLE_HEADING, Page, page_on
from cagewise.workflows.plant_folder import USUAL, VARIABLE

if TYPE_CHECKING:
    from cagewise.store import ExaminationKeys, KeptExamination, MotorEntry, NameplateVersion
    from cagewise.store.plant_file import PlantFile
    from cagewise.workflows.plant_motors import ListedMotor, ShownMotor, VisitCount

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
HEADS = ("motor", "site", "rated", "criticality", "measured", "state", "action", "description")
SPARE = ("description", "criticality", "rated")
"""Columns that a narrow page leaves out; "motor show" has them."""
NEVER = "never examined"
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


def show_list(listed: Sequence[ListedMotor], page: PageOptions, streams: Streams) -> None:
    """List motors with their latest examination."""
    screen = page_on(*console_of(page, streams))
    if not listed:
        screen.paragraph(NO_MOTORS, indent=0)
        return
    write_table(screen, HEADS, [_row(each) for each in listed], spare=SPARE)


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
    screen.heading("What is missing")
    for item in shown.missing:
        screen.paragraph(MISSING[item], first="- ")
    if not shown.missing:
        screen.paragraph(NOTHING_MISSING)


def _row(listed: ListedMotor) -> tuple[str, ...]:
    """Return one line of the list."""
    motor, latest = listed.motor, listed.latest
    return (
        motor.tag,
        motor.site,
        power(motor.rated_power_w),
        motor.criticality,
        NEVER if latest is None else str(latest.day),
        "" if latest is None else latest.keys.state,
        "" if latest is None else _action(latest.keys),
        motor.description,
    )


def _action(keys: ExaminationKeys) -> str:
    """Return what to do, with its day where one was set."""
    known = keys.action in set(CostAction)
    words = ACTIONS[CostAction(keys.action)] if known else keys.action
    return words if keys.act_by_latest is None else f"{words} by {keys.act_by_latest}"


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
    if keys.load_fraction is not None:
        rows.append(("load", f"{100.0 * keys.load_fraction:.0f} % of rated"))
    rows.append(("action", _action(keys)))
    rows.append(("made by version", latest.program_version))
    return rows
