"""Use case: find motors by what somebody remembers of them."""

from __future__ import annotations

from dataclasses import dataclass

from cagewise.store import MotorEntry, Plant


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundMotors:
    """The motors that fit some words."""

    exact: MotorEntry | None
    """The only one whose tag is exactly that."""
    motors: tuple[MotorEntry, ...]
    """All that fit, those whose tag begins like that first."""


def find_motors(plant: Plant, words: str) -> FoundMotors:
    """Return the motors whose tag, description or site holds every word.

    Parameters
    ----------
    plant
        Open.
    words
        Parts of a tag or a description; capitals and the space around them do not count. Nothing
        is found by no words.
    """
    wanted = words.casefold().split()
    whole = " ".join(wanted)
    if not wanted:
        return FoundMotors(exact=None, motors=())
    fitting = [motor for motor in plant.motors.all() if fits(motor, wanted)]
    fitting.sort(key=lambda motor: not motor.tag.casefold().startswith(whole))
    same = [motor for motor in fitting if motor.tag.casefold() == whole]
    return FoundMotors(exact=same[0] if len(same) == 1 else None, motors=tuple(fitting))


def fits(motor: MotorEntry, wanted: list[str]) -> bool:
    """Return whether a motor holds every word."""
    text = f"{motor.tag} {motor.description} {motor.site}".casefold()
    return all(word in text for word in wanted)
