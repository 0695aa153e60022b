"""Servers and workers are killed at random: every job ends, every file arrives, nothing twice."""

from __future__ import annotations

import http.client
import json
import os
import random
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from hashlib import sha256
from pathlib import Path
from time import monotonic, sleep
from typing import Any
from urllib.parse import urlsplit

import httpx2
import psutil
import pytest

from cagewise.store import Plant
from cagewise.web.jobs import Jobs, queue
from cagewise.web.jobs.workers import Workers, at_work
from cagewise.web.keeping import Workbench
from cagewise.web.uploads import Uploads
from support.demo_plants import kiln_plant, whole_visit

START, SHEET = "whole-visit-start.parquet", "whole-visit.sheet.toml"
PATIENCE_S = 120.0


@pytest.fixture
def plant(tmp_path: Path) -> Path:
    made, _ = kiln_plant(tmp_path)
    made.close()
    return made.folder


def start(plant: Path) -> tuple[subprocess.Popen[str], str]:
    """Start a server; return it and its address."""
    command = [sys.executable, "-m", "cagewise", "serve", "--plant", str(plant), "--port", "0"]
    process = subprocess.Popen(  # noqa: S603 - our own program
        command,
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
    )
    assert process.stdout is not None
    return process, process.stdout.readline().strip().removeprefix(f"{plant}: ").rstrip("/")


@contextmanager
def serving(plant: Path) -> Iterator[tuple[subprocess.Popen[str], str]]:
    process, address = start(plant)
    try:
        yield process, address
    finally:
        end(process)


def end(process: subprocess.Popen[str]) -> None:
    assert process.stdout is not None
    process.kill()
    process.wait()
    process.stdout.close()


def children(process: subprocess.Popen[str]) -> list[psutil.Process]:
    with suppress(psutil.NoSuchProcess):
        found: list[psutil.Process] = psutil.Process(process.pid).children(recursive=True)
        return found
    return []


def ask_import(address: str) -> int:
    """Send the files of a visit and ask for their import."""
    batch = ""
    for name in (START, SHEET):
        content = (whole_visit().motor.parent / name).read_bytes()
        said = httpx2.post(
            f"{address}/api/v1/motors/1/files",
            params={"name": name} | ({"batch": batch} if batch else {}),
            content=content,
            timeout=PATIENCE_S,
        ).json()
        batch = said["batch"]
    asked = httpx2.post(
        f"{address}/api/v1/motors/1/imports", json={"batch": batch, "examine": False}
    ).json()
    return int(asked["id"])


@pytest.mark.slow
def test_servers_and_workers_killed_at_random_lose_nothing(
    plant: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    chance = random.Random(7)  # noqa: S311 - moments, no secrets
    process, address = start(plant)
    try:
        number = ask_import(address)
        for _ in range(2):
            sleep(chance.uniform(0.2, 2.5))
            workers = children(process)
            end(process)  # the server, not its workers
            _, alive = psutil.wait_procs(workers, timeout=5.0)
            assert not alive
            process, address = start(plant)
    finally:
        end(process)
    monkeypatch.setattr(queue, "MOST_ATTEMPTS", 99)
    deadline = monotonic() + PATIENCE_S
    with Workbench.open(plant) as bench:
        jobs = Jobs(bench)
        uploads = Uploads(bench, plant)
        with at_work(Workers(jobs, plant, 1, uploads.imported)):
            while not (job := jobs.get(number)).state.is_over:
                assert monotonic() < deadline
                sleep(0.1)
    assert job.state == "done", job
    assert {each["fate"] for each in job.result["files"]} <= {"imported", "there already"}
    with Plant.open(plant) as kept:
        [motor] = kept.motors.all()
        [visit] = kept.visits.of(motor)
        [recording], [_] = kept.measurements.recordings(visit), kept.measurements.sheets(visit)
        kept.measurements.load(recording)
        for original in recording.originals:
            kept.measurements.originals.verify(original.checksum)
    assert not list((plant / "uploads").rglob("*.parquet"))


def test_a_killed_server_takes_its_workers_along_and_the_next_goes_on(plant: Path) -> None:
    with serving(plant) as (process, address):
        number = ask_import(address)
        deadline = monotonic() + PATIENCE_S
        while httpx2.get(f"{address}/api/v1/jobs/{number}").json()["state"] == "waiting":
            assert monotonic() < deadline
        workers = children(process)
        end(process)
        _, alive = psutil.wait_procs(workers, timeout=5.0)
        assert not alive
    with serving(plant) as (_, address):
        while (job := httpx2.get(f"{address}/api/v1/jobs/{number}").json())["ended_at"] is None:
            assert monotonic() < deadline
            sleep(0.1)
    assert job["state"] == "done", job


def announced(address: str, size: int) -> dict[str, Any]:
    said: dict[str, Any] = httpx2.post(
        f"{address}/api/v1/motors/1/files", params={"name": "run.dat", "size": size}
    ).json()
    return said


def test_a_file_cut_off_by_the_network_and_by_a_kill_is_gone_on_with(plant: Path) -> None:
    content = bytes(range(256)) * 40_000
    with serving(plant) as (process, address):
        upload = announced(address, len(content))
        where = f"/api/v1/uploads/{upload['id']}"
        parts = urlsplit(address)
        assert parts.hostname is not None
        line = http.client.HTTPConnection(parts.hostname, parts.port)
        line.putrequest("PATCH", f"{where}?offset=0")
        line.putheader("content-length", str(len(content)))
        line.endheaders(content[: len(content) // 2])
        assert isinstance(line.sock, socket.socket)
        line.sock.close()
        line.close()
        deadline = monotonic() + PATIENCE_S
        while not (known := httpx2.get(f"{address}{where}").json()["received_bytes"]):
            assert monotonic() < deadline
        httpx2.patch(
            f"{address}{where}", params={"offset": known}, content=content[known : known + 99]
        )
        end(process)
    with serving(plant) as (process, address):
        assert httpx2.get(f"{address}{where}").json()["received_bytes"] == known + 99
        done = httpx2.patch(
            f"{address}{where}", params={"offset": known + 99}, content=content[known + 99 :]
        ).json()
        assert done["sha256"] == sha256(content).hexdigest()
        process.send_signal(signal.SIGTERM)
        assert process.wait(30.0) in {0, -signal.SIGTERM}


def test_streams_end_with_the_server(plant: Path) -> None:
    with serving(plant) as (process, address), Workbench.open(plant) as bench:
        # as if another server worked at it, so that it goes on
        jobs = Jobs(bench)
        jobs.submit("reexamine", {}, title="Long", by="")
        claim = jobs.claim()
        if claim is None:
            pytest.skip("the server was faster")
        with httpx2.stream(
            "GET", f"{address}/api/v1/jobs/events", params={"id": claim.job.id}
        ) as stream:
            lines = stream.iter_lines()
            assert next(lines).startswith("retry")
            began = monotonic()
            process.send_signal(signal.SIGTERM)
            told = [json.loads(line[6:]) for line in lines if line.startswith("data: {")]
            assert monotonic() - began < 2.5
        assert told[-1]["state"] == "running"
        process.wait(30.0)
