"""The client of docs/workbench.md, as it stands there, against a real server."""

from __future__ import annotations

import re
import sys
from importlib.resources import files
from pathlib import Path
from types import ModuleType

import pytest

from cagewise.store import Plant
from support.serving import serving

pytest.importorskip("uvicorn", reason="the workbench is not installed")

pytestmark = pytest.mark.slow

GUIDE = Path(__file__).parents[3] / "docs" / "workbench.md"
DEMO = Path(str(files("cagewise.workflows") / "demo_data"))


def client(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """Return the example as a module."""
    first = re.findall(r"```python\n(.*?)```", GUIDE.read_text(), re.DOTALL)[0]
    module = ModuleType("client_of_the_guide")
    monkeypatch.setitem(sys.modules, module.__name__, module)
    exec(compile(first, str(GUIDE), "exec"), module.__dict__)  # noqa: S102 - our own guide
    return module


def test_the_client_brings_files_in_and_reads_the_finding(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "plant"
    with Plant.create(folder, name="Works") as plant:
        plant.motors.add((DEMO / "kiln-fan.toml").read_text())
    with serving(folder) as (_, address):
        bench = client(monkeypatch).Workbench(address.rstrip("/"))
        motor = bench.motor("LK-120-M")
        job = bench.bring_in(motor, [DEMO / "whole-visit.parquet", DEMO / "whole-visit.sheet.toml"])
        (finding,) = bench.findings(bench.wait(job))
    assert finding.day == "2031-04-15"
    assert finding.state == "defective"
    assert finding.action
