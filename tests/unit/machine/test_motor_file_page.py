"""The page on the motor file and the loader agree."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from cagewise.errors import MotorFileError
from cagewise.machine.motor_file import motor_from_mapping
from cagewise.machine.motor_schema import SECTIONS, BearingSection

PAGE = (Path(__file__).resolve().parents[3] / "docs" / "motor-file.md").read_text("utf-8")


def keys_of(header: str) -> set[str]:
    """Return the keys in the first column of the table under a heading."""
    section = PAGE.split(f"## `{header}`")[1].split("\n## ")[0]
    rows = [line.split("|")[1] for line in section.splitlines() if line.startswith("| `")]
    return {key for row in rows for key in re.findall(r"`([a-z_0-9]+)`", row)}


@pytest.mark.parametrize("name", SECTIONS)
def test_every_key_is_on_the_page_and_no_other(name: str) -> None:
    assert keys_of(f"[{name}]") == set(SECTIONS[name].model_fields)


def test_bearing_keys() -> None:
    assert keys_of("[[bearings]]") == set(BearingSection.model_fields)


def test_the_shortest_example_works_and_the_quoted_message_is_real() -> None:
    block = re.search(r"```toml\n(.*?)```", PAGE, re.DOTALL)
    assert block is not None
    content = tomllib.loads(block.group(1))
    assert motor_from_mapping(content).warnings == ()
    content["motor"]["rated_power_kw"] = 100
    with pytest.raises(MotorFileError) as caught:
        motor_from_mapping(content, where="pump.toml")
    quoted = " ".join(PAGE[PAGE.index("    pump.toml") :].split())
    assert quoted == str(caught.value)
