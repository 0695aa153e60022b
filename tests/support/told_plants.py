"""A served plant with a history: a growing cage, a sound one, one that nobody measured."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from cagewise.store import Plant
from support.kept_histories import LAST, add_examination, add_growing, add_motor

NASTY = "<script>alert(1)</script>"
"""What somebody may write anywhere."""
GROWING, SOUND, NEVER = 1, 2, 3
"""Numbers of the motors."""
NEWER = {"winding": "", "insulation": "", "next_step": "", "action": "keep"}


def told_plant(folder: Path) -> Path:
    """Make the plant, and return its folder."""
    with Plant.create(folder, name=f"Works {NASTY}") as plant:
        growing = add_motor(plant, "GR-1")
        add_growing(plant, growing, [0.2, 0.3, 0.45, 0.7, 1.0, 1.5])
        sound = add_motor(plant, "SO-2")
        add_examination(
            plant, sound, LAST, 0.05, "sound", upper_limit_bars=0.2, act_by_latest=date(2031, 9, 1),
            **{**NEWER, "winding": "suspect"},
        )  # fmt: skip
        add_motor(plant, NASTY)
    return folder
