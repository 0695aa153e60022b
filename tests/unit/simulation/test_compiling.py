"""Machine code that is kept on disk never outlives an edit of what it was made of."""

from __future__ import annotations

import importlib
import shutil
import sys
from pathlib import Path

import numpy as np
import pytest

from cagewise.simulation import Damage, Eccentricity, GapShape, reference_motor_r3k
from cagewise.simulation.equations import model as model_module
from cagewise.simulation.equations.model import CoupledModel, assemble
from cagewise.simulation.equations.shaped_gap import assemble_shaped
from cagewise.simulation.machine import saturation
from cagewise.simulation.plant import load
from cagewise.simulation.stepping.runge_kutta import N_OBSERVED

pytest.importorskip("numba")

from cagewise.simulation.stepping import compiled
from cagewise.simulation.stepping.compiling import fingerprint

LEAF = """
from cagewise.simulation.stepping.compiling import compiled

FACTOR = {factor}

@compiled
def gain(value: float) -> float:
    return FACTOR * value
"""

KERNEL = """
from pathlib import Path

from cagewise.simulation.stepping.compiling import fingerprint, kept
from leaf_of_a_kernel import gain

def make(sources):
    @kept
    def kernel(value):
        return gain(value), sources
    return kernel

kernel = make({sources})
"""

OF_ALL_FILES = "fingerprint(Path(__file__).parent)"
MACHINE = (reference_motor_r3k(orders=(1,)), Damage(), Eccentricity())


def _called_anew() -> tuple[float, int]:
    """Return what the kernel makes of 1.0 in a fresh import, and how often the disk served it."""
    for name in ("kernel_of_leaves", "leaf_of_a_kernel"):
        sys.modules.pop(name, None)
    importlib.invalidate_caches()
    kernel = importlib.import_module("kernel_of_leaves").kernel
    value, _ = kernel(1.0)
    return value, sum(kernel.stats.cache_hits.values())


@pytest.mark.parametrize(("sources", "after"), [(OF_ALL_FILES, (3.0, 0)), ("0", (2.0, 1))])
def test_an_edit_of_another_file_is_noticed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, sources: str, after: tuple[float, int]
) -> None:
    """With the fingerprint an edited constant counts at once; without, the old code would live."""
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    monkeypatch.syspath_prepend(tmp_path)
    (tmp_path / "kernel_of_leaves.py").write_text(KERNEL.format(sources=sources))
    (tmp_path / "leaf_of_a_kernel.py").write_text(LEAF.format(factor=2.0))
    assert _called_anew() == (2.0, 0)
    assert _called_anew() == (2.0, 1)
    (tmp_path / "leaf_of_a_kernel.py").write_text(LEAF.format(factor=3.0))
    assert _called_anew() == after


@pytest.mark.parametrize("source", [model_module, saturation, load, compiled])
def test_the_fingerprint_sees_every_file_of_the_kernel(tmp_path: Path, source: object) -> None:
    """One character more in any of them, or another name, makes another fingerprint."""
    file = Path(str(getattr(source, "__file__", "")))
    copy = tmp_path / "simulation"
    shutil.copytree(compiled.SOURCES, copy, ignore=shutil.ignore_patterns("__pycache__"))
    assert fingerprint(copy) == fingerprint(compiled.SOURCES)
    edited = copy / file.relative_to(compiled.SOURCES)
    edited.write_text(edited.read_text() + "\n")
    assert fingerprint(copy) != fingerprint(compiled.SOURCES)
    edited.write_text(file.read_text())
    assert fingerprint(copy) == fingerprint(compiled.SOURCES)
    edited.rename(edited.with_name("renamed.py"))
    assert fingerprint(copy) != fingerprint(compiled.SOURCES)


@pytest.mark.parametrize("model", [assemble(*MACHINE), assemble_shaped(*MACHINE, GapShape())])
def test_the_kernel_in_use_is_that_of_the_present_sources(model: CoupledModel) -> None:
    """Whether compiled now or taken from the disk, it says what it was compiled from."""
    state, out = np.zeros(model.n_states), np.empty((1, N_OBSERVED))
    made_of = compiled._advance(compiled.lean(model), np.zeros((3, 3)), 1e-5, state, out)
    assert made_of == fingerprint(compiled.SOURCES)
