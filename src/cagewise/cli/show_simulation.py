"""The command "simulate": options to a recording on disk, and its truth on the screen."""

from __future__ import annotations

from pathlib import Path

from cagewise.cli.options import PageOptions, SimulationOptions
from cagewise.cli.render import console_of
from cagewise.cli.streams import Streams
from cagewise.errors import UsageError
from cagewise.machine.motor_file import load_motor
from cagewise.readers import write_recording
from cagewise.report.expect_text import write_simulated
from cagewise.workflows.simulate import SimulateOptions, simulate_motor


def show_simulation(
    motor_path: Path, out: Path, options: SimulationOptions, page: PageOptions, streams: Streams
) -> None:
    """Simulate, write the recording and show its truth.

    An existing file was refused before, or is to be replaced.
    """
    motor = load_motor(motor_path)
    recording = simulate_motor(
        motor,
        SimulateOptions(
            open_bars=_bars(options.open_bars),
            resistance_factors=dict(_factor(text) for text in options.cracked),
            load_fraction=options.load,
            duration_s=options.seconds,
            sampling_rate_hz=options.rate,
            seed=options.seed,
        ),
    )
    write_recording(recording, out, overwrite=True)
    write_simulated(motor, out, recording.truth, console_of(page, streams))


def _bars(text: str) -> tuple[int, ...]:
    """Return bar numbers separated by commas."""
    try:
        return tuple(int(part) for part in text.split(",") if part.strip())
    except ValueError as error:
        raise UsageError(
            f"bar numbers separated by commas are needed, got {text!r}",
            where="--open-bars",
            remedy="As in --open-bars 0,1.",
        ) from error


def _factor(text: str) -> tuple[int, float]:
    """Return a bar and the factor on its resistance."""
    bar, _, factor = text.partition("=")
    try:
        return int(bar), float(factor)
    except ValueError as error:
        raise UsageError(
            f"a bar and a factor are needed, got {text!r}",
            where="--cracked",
            remedy="As in --cracked 7=2.0.",
        ) from error
