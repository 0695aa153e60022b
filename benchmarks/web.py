"""Speed of the workbench: ``python benchmarks/web.py`` (``--once`` for a small, quick run).

A server in a process of its own; this process is the browser. Everything is compared with what a
plain program would do with the same bytes in the same run.
"""

from __future__ import annotations

import argparse
import http.client
import os
import secrets
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from cagewise.store import Plant

MEGABYTE = 1_000_000
UPLOAD_BYTES = 50 * MEGABYTE
MOST_TIMES_SLOWER = 3.0
"""An upload against a plain copy of the file that is flushed to the disk."""
REPEATS, ONCE_REPEATS = 25, 10
PIECE_BYTES = 1 << 18
"""Sent at a time."""

MOTOR = """
[motor]
tag = "P-101"
rated_power_kw = 315
rated_voltage_v = 690
rated_frequency_hz = 50
rated_speed_rpm = 1485
rated_current_a = 320
poles = 4
"""


@contextmanager
def serving(plant: Path) -> Iterator[int]:
    """Serve a plant; give the port."""
    command = [sys.executable, "-m", "cagewise", "serve", "--plant", str(plant), "--port", "0"]
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment) as process:
        assert process.stdout is not None
        try:
            line = process.stdout.readline()
            yield int(line.strip().rstrip("/").rsplit(":", 1)[1])
        finally:
            process.terminate()


def copied(source: Path, target: Path) -> float:
    """Return the time of copying a file so that it is on the disk."""
    begin = time.perf_counter()
    with source.open("rb") as stream, target.open("wb") as out:
        while block := stream.read(1 << 20):
            out.write(block)
        out.flush()
        os.fsync(out.fileno())
    return time.perf_counter() - begin


def uploaded(port: int, source: Path) -> float:
    """Return the time of sending a file until the server says that it is on the disk."""
    begin = time.perf_counter()
    connection = http.client.HTTPConnection("127.0.0.1", port)
    size = source.stat().st_size
    connection.putrequest("POST", f"/api/v1/motors/1/files?name={source.name}")
    connection.putheader("content-length", str(size))
    connection.endheaders()
    with source.open("rb") as stream:
        while block := stream.read(PIECE_BYTES):
            connection.send(block)
    answer = connection.getresponse()
    answer.read()
    assert answer.status == 201, answer.status
    connection.close()
    return time.perf_counter() - begin


def upload_row(folder: Path, repeats: int) -> float:
    """Measure uploads and copies in turn; print a row and return the ratio."""
    source = folder / "run.dat"
    source.write_bytes(secrets.token_bytes(UPLOAD_BYTES))
    plant = folder / "plant"
    with Plant.create(plant) as made:
        made.motors.add(MOTOR)
    sent, plain = [], []
    with serving(plant) as port:
        for number in range(repeats):
            plain.append(copied(source, folder / f"copy-{number}"))
            sent.append(uploaded(port, source))
    ratio = min(sent) / min(plain)
    print(
        f"upload of {UPLOAD_BYTES / MEGABYTE:.0f} MB: {min(sent):.3f} s, "
        f"plain copy with fsync: {min(plain):.3f} s, ratio {ratio:.2f} "
        f"(at most {MOST_TIMES_SLOWER:g})"
    )
    return ratio


def main() -> None:
    """Measure, print, and fail if it is too slow."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--once", action="store_true")
    repeats = ONCE_REPEATS if parser.parse_args().once else REPEATS
    with tempfile.TemporaryDirectory(dir=Path.cwd()) as name:  # not in memory, as /tmp may be
        assert upload_row(Path(name), repeats) <= MOST_TIMES_SLOWER


if __name__ == "__main__":
    main()
