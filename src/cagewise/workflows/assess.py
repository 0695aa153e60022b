"""Use case: a motor file and the recordings of one visit to an examination."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from cagewise.decision.examination import Examination, Settings
from cagewise.decision.limits import load_limits
from cagewise.errors import ChannelRoleError
from cagewise.evidence.fusion.patterns import Prior
from cagewise.evidence.probability import TruthStudy
from cagewise.machine.motor import Motor
from cagewise.quantities import Estimate
from cagewise.workflows.visit_files import AssessOptions, VisitReader

__all__ = ["AssessOptions", "assess", "motor_file_doubted", "settings_of"]

SIZE_WARNING = "[motor] rated_current_a"
"""Beginning of warnings of the motor file that can make right roles look wrong."""

PREVALENCES = (0.001, 0.5)
"""Shares of defective cages that may be stated: below one in a thousand or above one in two nobody
needs this program to know what to do."""


def assess(
    motor_path: Path, paths: Sequence[Path], options: AssessOptions | None = None
) -> Examination:
    """Examine what was measured on one visit: recordings and test sheets.

    Raises
    ------
    MotorFileError
        If the motor file cannot be used.
    RecordingError
        If a recording cannot be used.
    SheetError
        If a test sheet cannot be used.
    ChannelRoleError
        If it is not certain which channel is which.
    MissingExtraError
        If a file format needs an optional part of the installation.
    """
    from cagewise.machine.motor_file import load_motor
    from cagewise.pipeline import Earlier, examine_visit

    options = options or AssessOptions()
    motor = load_motor(motor_path)
    reader = VisitReader(motor, options)
    with motor_file_doubted(motor):
        return examine_visit(
            motor,
            reader.recordings(paths),
            settings_of(options),
            sheets=reader.sheets(paths),
            earlier=Earlier(
                recordings=reader.recordings(options.earlier), sheets=reader.sheets(options.earlier)
            ),
        )


@contextmanager
def motor_file_doubted(motor: Motor) -> Iterator[None]:
    """Add to an error about the roles what in the motor file can make right roles look wrong.

    Raises
    ------
    ChannelRoleError
        That of the block.
    """
    try:
        yield
    except ChannelRoleError as error:
        doubts = [text for text in motor.warnings if text.startswith(SIZE_WARNING)]
        if not doubts:
            raise
        remedy = f"{error.remedy} But first check the motor file: {' '.join(doubts)}"
        raise ChannelRoleError(error.what, where=error.where, remedy=remedy) from error


def settings_of(options: AssessOptions) -> Settings:
    """Return the settings of an examination from what the user stated."""
    limits = load_limits()
    speed = None
    if options.speed_rpm is not None:
        error = limits.plan.speed_reading_error_rpm
        speed = Estimate(options.speed_rpm, options.speed_rpm - error, options.speed_rpm + error)
    return Settings(
        limits=limits,
        speed_rpm=speed,
        roles_confirmed=options.roles_confirmed,
        study=_study(options.prevalence),
    )


def _study(prevalence: float | None) -> TruthStudy:
    """Return what makes probabilities, under the prior that the user stated if one was."""
    if prevalence is None:
        return TruthStudy()
    shares = "shares of the patterns: our judgement"
    return TruthStudy(prior=Prior(prevalence=prevalence, source=f"prevalence: stated; {shares}"))
