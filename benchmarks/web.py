"""Speed of the workbench: ``python benchmarks/web.py`` (``--once`` for a small, quick run).

A server in a process of its own; this process is the browser. Everything is compared with what a
plain program would do with the same bytes in the same run, each the least of several tries: on a
machine that others use, only that says something.

A page is usable when it is there, the library of its plots, and the numbers of its first picture.
That is asked for warm, with an examination of 60 s of six channels at 10 kHz, and held against the
same server sending the library of the plots, a static file, alone. Drawing is the browser's.
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
from datetime import date
from pathlib import Path

from cagewise.readers import write_recording
from cagewise.store import Plant
from cagewise.workflows.plant_assess import assess_visit
from cagewise.workflows.plant_import import ImportOptions, import_files
from cagewise.workflows.simulate import SimulateOptions, simulate

MEGABYTE = 1_000_000
UPLOAD_BYTES = 50 * MEGABYTE
MOST_TIMES_SLOWER = 3.0
"""An upload against a plain copy of the file that is flushed to the disk."""
REPEATS, ONCE_REPEATS = 25, 10
PIECE_BYTES = 1 << 18
"""Sent at a time."""

STATIC = "/scripts/plotly.js"
MOST_SECONDS = 1.0
"""From asking for a warm page to the numbers of its picture; fails only where the static file came
as quickly as it does on a machine at rest."""
STATIC_AT_REST_S = 0.05
MOST_STATIC_FILES = 60.0
"""Page, picture and a window of the whole spectrum against the static file."""
RATE_HZ, SECONDS, SHORT_SECONDS = 10_000.0, 60.0, 20.0

MOTOR = """
[motor]
tag = "P-101"
rated_power_kw = 315
rated_voltage_v = 690
rated_frequency_hz = 50
rated_speed_rpm = 1485
rated_current_a = 320
poles = 4
rotor_bars = 58
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


def recorded(folder: Path, duration_s: float) -> tuple[Path, str]:
    """Make a plant with one examination; return it and the number of the examination."""
    motor_file, source = folder / "motor.toml", folder / "running.parquet"
    motor_file.write_text(MOTOR)
    options = SimulateOptions(
        open_bars=(0,), duration_s=duration_s, sampling_rate_hz=RATE_HZ, seed=7
    )
    write_recording(simulate(motor_file, options), source)
    with Plant.create(folder / "measured") as plant:
        entry = plant.motors.add(MOTOR)
        taken = ImportOptions(tag=entry.tag, day=date(2031, 5, 17))
        list(import_files(plant, [source], taken))
        number = assess_visit(plant, entry).kept.id
    return folder / "measured", str(number)


def fetched(port: int, *paths: str) -> float:
    """Return the time of asking for these, one after the other, over one connection."""
    connection = http.client.HTTPConnection("127.0.0.1", port)
    connection.connect()
    begin = time.perf_counter()
    for path in paths:
        connection.request("GET", path, headers={"accept-encoding": "gzip"})
        answer = connection.getresponse()
        assert answer.read(), path
        assert answer.status == 200, f"{path}: {answer.status}"
    taken = time.perf_counter() - begin
    connection.close()
    return taken


def page_row(folder: Path, repeats: int, duration_s: float) -> tuple[float, float, float]:
    """Measure pages and static files in turn; return page, window and static file, in seconds."""
    plant, number = recorded(folder, duration_s)
    picture = f"/api/v1/examinations/{number}/pictures"
    with serving(plant) as port:
        static = redirected(port, STATIC)
        page = (f"/examinations/{number}", static, f"{picture}/supply_frame")
        window = f"{picture}/spectrum/window?columns=1200&low=40&high=60"
        cold = fetched(port, *page) + fetched(port, window)
        rows = [
            (fetched(port, static), fetched(port, *page), fetched(port, window))
            for _ in range(repeats)
        ]
    file_s, page_s, window_s = (min(each) for each in zip(*rows, strict=True))
    print(
        f"{duration_s:.0f} s x 6 x {RATE_HZ / 1e3:.0f} kHz: static file {file_s * 1e3:.1f} ms; "
        f"warm page to numbers of its picture {page_s * 1e3:.0f} ms, ratio {page_s / file_s:.1f}; "
        f"window of the whole spectrum {window_s * 1e3:.1f} ms, ratio {window_s / file_s:.1f} "
        f"(at most {MOST_STATIC_FILES:g}); the first time {cold:.2f} s"
    )
    return page_s, window_s, file_s


def redirected(port: int, path: str) -> str:
    """Return where a path leads."""
    connection = http.client.HTTPConnection("127.0.0.1", port)
    connection.request("GET", path)
    answer = connection.getresponse()
    answer.read()
    connection.close()
    return answer.headers["location"] or path


def main() -> None:
    """Measure, print, and fail if it is too slow."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--once", action="store_true")
    once: bool = parser.parse_args().once
    repeats = ONCE_REPEATS if once else REPEATS
    with tempfile.TemporaryDirectory(dir=Path.cwd()) as name:  # not in memory, as /tmp may be
        assert upload_row(Path(name), repeats) <= MOST_TIMES_SLOWER
        length = SHORT_SECONDS if once else SECONDS
        page_s, window_s, file_s = page_row(Path(name), repeats, length)
    assert max(page_s, window_s) <= MOST_STATIC_FILES * file_s
    assert page_s <= MOST_SECONDS or file_s > STATIC_AT_REST_S


if __name__ == "__main__":
    main()
