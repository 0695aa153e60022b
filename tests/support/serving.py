"""The real server, in a process of its own."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


@contextmanager
def serving(plant: Path, *options: str) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """Serve a plant at any free port; give the process and its address, ending in a slash."""
    command = [sys.executable, "-m", "cagewise", "serve", "--plant", str(plant), "--port", "0"]
    process = subprocess.Popen(  # noqa: S603 - our own program
        [*command, *options],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
    )
    assert process.stdout is not None
    try:
        line = process.stdout.readline()
        yield process, line.strip().removeprefix(f"{plant}: ")
    finally:
        process.kill()
        process.communicate()
