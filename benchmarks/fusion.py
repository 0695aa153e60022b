"""Cost of the fusion: ``python benchmarks/fusion.py``.

The baseline, measured in the same run, is the examination of the same 60 s of six channels
without the fusion: roles, quality, slip, readings, evidence, verdict. With it come the
posterior, the competing explanations ranked by it, the next measurements ranked by what they would
tell, and the costs weighed. It may take half as long again.
"""

from __future__ import annotations

import os

os.environ["OMP_NUM_THREADS"] = "1"  # waiting threads would count as processor time
os.environ["OPENBLAS_NUM_THREADS"] = "1"

import argparse
import time
from collections.abc import Callable
from dataclasses import replace
from types import SimpleNamespace
from unittest.mock import patch

from cagewise.decision.examination import Examination
from cagewise.evidence.fusion.posterior import Posterior
from cagewise.evidence.probability import NotCalibrated, TruthStudy
from cagewise.machine.motor import Motor
from cagewise.measurement import Recording
from cagewise.pipeline import examine, visit
from truth.population import scene
from truth.simulated import Simulated

MOST_TIMES_BASELINE = 1.5
NOTHING_FIRST = SimpleNamespace(first=None)
SCENES = (293, 253)
"""Scenes of the truth study: one open bar at 5 kHz, a load that swings at 2sf at 10 kHz."""


def without(motor: Motor, recording: Recording) -> Examination:
    """Examine a recording; nothing is fused, nothing follows from it."""
    fused = patch.object(TruthStudy, "posterior", NotCalibrated.posterior)
    with (
        fused,
        patch.object(visit, "outlook"),
        patch.object(visit, "course_of", return_value=NOTHING_FIRST),
    ):
        return examine(motor, recording)


def compare(motor: Motor, recording: Recording, repeats: int) -> tuple[float, float]:
    """Return the shortest times without and with the fusion, s, measured in turn."""
    fused, unfused = examine(motor, recording), without(motor, recording)
    assert isinstance(fused.evidence.posterior, Posterior)
    assert not isinstance(unfused.evidence.posterior, Posterior)
    assert fused.outlook.explanations
    assert fused.outlook.next_measurements
    assert fused.verdict == unfused.verdict

    times = [
        (_seconds(without, motor, recording), _seconds(examine, motor, recording))
        for _ in range(repeats)
    ]
    return min(first for first, _ in times), min(second for _, second in times)


def _seconds(
    work: Callable[[Motor, Recording], Examination], motor: Motor, recording: Recording
) -> float:
    """Return the processor time of one examination: others may use the machine meanwhile."""
    begin = time.process_time()
    work(motor, recording)
    return time.process_time() - begin


def main() -> None:
    """Print times and ratios; fail when one is out of bounds."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--once", action="store_true", help="few repeats, for CI")
    repeats = 7 if parser.parse_args().once else 25
    print(f"{'60 s of 6 channels, examined':44} without   with  ratio (most {MOST_TIMES_BASELINE})")
    for number in SCENES:
        of = scene(number)
        motor = of.plate.motor(of.motor, bars_known=of.bars_known)
        recording = replace(Simulated(of).running(), truth={})
        baseline_s, fusion_s = compare(motor, recording, repeats)
        what = f"{of.motor}, {of.scenario}, {of.rate_hz / 1e3:g} kHz"
        ratio = fusion_s / baseline_s
        print(f"{what:44} {baseline_s:5.3f} s {fusion_s:5.3f} s {ratio:5.2f}")
        assert ratio <= MOST_TIMES_BASELINE


if __name__ == "__main__":
    main()
