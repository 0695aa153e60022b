"""Which findings a channel wants, and what a message says."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from cagewise.decision.verdict import State
from cagewise.report import message
from cagewise.store import Plant
from cagewise.workflows.plant_assess import PlantAssessOptions, assess_visit
from cagewise.workflows.plant_import import ImportOptions, import_files
from cagewise.workflows.plant_messages import _wants, put_finding
from cagewise.workflows.post_file import Channel
from support.demo_plants import kiln_plant, whole_visit

DOCS = Path(__file__).parents[3] / "docs/messages.md"
ALL = Channel(name="a", address=urlsplit("https://a.example"))
WARNING = replace(ALL, states=frozenset({State.SUSPECT, State.DEFECTIVE}))
CHANGES = replace(ALL, only_changes=True)
TURNS = replace(WARNING, only_changes=True)
SOUND = {"rotor cage": "sound"}
SUSPECT = {"rotor cage": "suspect"}
DRY = {"rotor cage": "sound", "stator insulation": "sound"}
WET = {"rotor cage": "sound", "stator insulation": "defective"}


@pytest.mark.parametrize(
    ("channel", "before", "now", "wanted"),
    [
        (ALL, {}, SOUND, True),
        (ALL, SOUND, SOUND, True),
        (WARNING, {}, SOUND, False),
        (WARNING, {}, SUSPECT, True),
        (WARNING, SUSPECT, SUSPECT, True),
        (WARNING, SOUND, WET, True),  # the cage is sound, the motor is not
        (CHANGES, {}, SOUND, True),
        (CHANGES, SOUND, SOUND, False),
        (CHANGES, SOUND, WET, True),
        (TURNS, SUSPECT, SUSPECT, False),
        (TURNS, SUSPECT, SOUND, True),  # whoever was warned is told that it is over
        (TURNS, {}, SOUND, False),
        (CHANGES, WET, SOUND, False),  # the insulation was not tested this time
        (CHANGES, SOUND, DRY, False),  # tested for the first time, and sound
        (TURNS, WET, DRY, True),
        (TURNS, WET, WET, False),
    ],
)
def test_which_findings_a_channel_wants(
    channel: Channel, before: Mapping[str, str], now: Mapping[str, str], *, wanted: bool
) -> None:
    assert _wants(channel, now, before) is wanted


@pytest.fixture(scope="module")
def payloads(tmp_path_factory: pytest.TempPathFactory) -> list[Mapping[str, object]]:
    """Messages on two visits, the later one examined first."""
    plant, motor = kiln_plant(tmp_path_factory.mktemp("plant"))
    latest = replace(ALL, name="latest", latest_only=True, who="the reliability engineer")
    with plant:
        files = [whole_visit().motor.parent / "whole-visit-2027.sheet.toml", whole_visit().files[0]]
        list(import_files(plant, files, ImportOptions(tag=motor.tag)))
        for visit in reversed(plant.visits.of(motor)):
            done = assess_visit(plant, motor, PlantAssessOptions(visit=visit.day))
            for _ in range(2):  # the same again enters once
                with plant.writing():
                    put_finding(plant, motor, done, [ALL, latest])
        return [{"channel": m.channel} | dict(m.payload) for m in plant.outbox.unsent()]


def test_a_channel_of_the_latest_only_hears_nothing_of_earlier_visits(
    payloads: list[Mapping[str, object]],
) -> None:
    told = [(each["channel"], each["visit_day"]) for each in payloads]
    assert told == [("a", "2031-04-15"), ("latest", "2031-04-15"), ("a", "2027-05-11")]
    assert payloads[0]["key"] == payloads[1]["key"] != payloads[2]["key"]


def test_a_message_says_what_was_found_and_who_should_look(
    payloads: list[Mapping[str, object]],
) -> None:
    said = payloads[1]
    assert said["state"] == "defective"
    assert "the readings speak for a defect" in str(said["summary"])
    assert "For the reliability engineer to look at" in str(said["summary"])
    assert "Nothing was decided or done" in str(said["note"])
    assert said["who_should_look"] == "the reliability engineer"
    assert "Take the motor out" not in str(said["summary"])  # a suggestion, never an order


def test_the_documented_example_has_the_fields_of_a_real_message(
    payloads: list[Mapping[str, object]],
) -> None:
    text = DOCS.read_text(encoding="utf-8")
    example = json.loads(re.findall(r"```json\n(.*?)```", text, re.DOTALL)[0])
    real = {name: value for name, value in payloads[1].items() if name != "channel"}
    assert shape(example) == shape(real)
    assert example["schema_version"] == message.SCHEMA_VERSION
    assert not [name for name in names(real) if f"`{name}`" not in text]


def shape(value: object, name: str = "") -> object:
    """Return the names of a message, and of what is in it; parts are not names."""
    if isinstance(value, Mapping) and name != "states_before":
        return {name: shape(each, name) for name, each in sorted(value.items())}
    return type(value).__name__


def names(value: Mapping[str, object]) -> set[str]:
    """Return all names of a message."""
    inner = [names(each) for each in value.values() if isinstance(each, Mapping)]
    return set(value).union(*inner)


def test_a_motor_file_with_gaps_is_told(tmp_path: Path) -> None:
    with Plant.create(tmp_path / "plant") as plant:
        whole = whole_visit().motor.read_text(encoding="utf-8")
        motor = plant.motors.add(re.sub(r"rotor_bars = \d+\n", "", whole))
        shutil.copy(whole_visit().motor.parent / "whole-visit-2027.sheet.toml", tmp_path)
        files = [tmp_path / "whole-visit-2027.sheet.toml"]
        list(import_files(plant, files, ImportOptions(tag=motor.tag)))
        done = assess_visit(plant, motor)
        with plant.writing():
            put_finding(plant, motor, done, [ALL])
        [told] = plant.outbox.unsent()
    assert any("rotor bars" in item for item in told.payload["missing"]["motor_data"])
