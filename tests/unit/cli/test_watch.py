"""A watcher that runs on: what ends it, and what does not."""

from __future__ import annotations

import io
import signal
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from cagewise.cli.show_watch import Log, Pace, _for_ever, _stopped_by_signals, show_watch
from cagewise.cli.status import ExitStatus
from cagewise.cli.streams import Streams
from cagewise.errors import DamagedFileError, StoreError, StoreLockedError, StoreUnreachableError
from cagewise.store import Plant
from cagewise.workflows.plant_watch import FolderGone, Watcher, WatchOptions


class Rounds:
    """A watcher whose rounds were written down before."""

    def __init__(self, stop: threading.Event, *rounds: StoreError | None) -> None:
        self._rounds = list(rounds)
        self._stop = stop

    def round(self, _stopped: object) -> Iterator[FolderGone]:
        error = self._rounds.pop(0)
        if not self._rounds:
            self._stop.set()
        if error is not None:
            raise error
        yield FolderGone(folder=Path("share\x1b[2J"), reason="away")


@pytest.fixture
def plant(tmp_path: Path) -> Iterator[Plant]:
    with Plant.create(tmp_path / "plant") as made:
        yield made


@pytest.fixture
def streams() -> Streams:
    return Streams(out=io.StringIO(), err=io.StringIO())


def lines(streams: Streams) -> list[str]:
    assert isinstance(streams.out, io.StringIO)
    return [line.split("  ", 1)[1] for line in streams.out.getvalue().splitlines()]


def run(plant: Plant, streams: Streams, *rounds: StoreError | None) -> None:
    stop = threading.Event()
    watcher = Rounds(stop, *rounds)
    _for_ever(watcher, Log(plant, streams), stop, 0.0)  # type: ignore[arg-type] # a stand-in


def test_what_may_pass_is_said_once_and_when_it_is_over(plant: Plant, streams: Streams) -> None:
    locked, away = StoreLockedError("locked"), StoreUnreachableError("it does not answer")
    run(plant, streams, locked, locked, away, None, None, locked)
    said = [line.split(":")[0] for line in lines(streams)]
    trouble = "the plant cannot be used now, it is tried again"
    gone = "folder away  share [2J"  # what a name holds cannot control the terminal
    assert said == [trouble, trouble, gone, "the plant can be used again", gone, trouble]


def test_what_does_not_pass_ends_it(plant: Plant, streams: Streams) -> None:
    with pytest.raises(DamagedFileError):
        run(plant, streams, DamagedFileError("damaged"), None)


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_one_signal_asks_and_gives_the_next_one_back(
    number: signal.Signals, plant: Plant, streams: Streams
) -> None:
    stop, before = threading.Event(), signal.getsignal(number)
    with _stopped_by_signals(stop, Log(plant, streams)):
        signal.raise_signal(number)
        assert stop.is_set()
        assert signal.getsignal(number) == before
    assert signal.getsignal(number) == before
    assert lines(streams) == ["asked to stop: finishing the step at hand"]


def test_once_ends_when_nothing_moves_any_more(
    plant: Plant, streams: Streams, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "in").mkdir()
    asked = iter((False, False, True))
    monkeypatch.setattr(Watcher, "is_idle", property(lambda _: next(asked)))
    options = WatchOptions(folders=[tmp_path / "in"])
    status = show_watch(plant, options, Pace(every_s=0.01, once=True), streams)
    assert status is ExitStatus.EXAMINED
    assert next(asked, None) is None
