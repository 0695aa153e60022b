"""The command "watch" on the screen: one line for each thing that happened, with its time."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from types import FrameType

from cagewise.cli.counting import counted
from cagewise.cli.status import ExitStatus
from cagewise.cli.streams import Streams
from cagewise.decision.verdict import State
from cagewise.report import wording
from cagewise.report.message import states_of_examination
from cagewise.store import Plant
from cagewise.workflows.plant_import import Fate, FileReport
from cagewise.workflows.plant_post import Sent
from cagewise.workflows.plant_watch import (
    PASSING,
    Event,
    Examined,
    FolderGone,
    NotExamined,
    StillRefused,
    Watcher,
    WatchOptions,
)
from cagewise.workflows.post_delivery import Outcome

WATCHING = "watching {folders} for {plant}; {channels}"
POSTED_TO = "findings go to {names}"
POSTED_NOT = "there is no post.toml, findings are kept and not posted"
STOPPED = "stopped"
ASKED = "asked to stop: finishing the step at hand"
TROUBLE = "the plant cannot be used now, it is tried again: {error}"
OVER = "the plant can be used again"
LONGEST_STEP_S = 1.0
"""With --once: longest pause before it is looked whether files have come to rest."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """How often, and how long."""

    every_s: float
    once: bool


class Log:
    """Lines with their time."""

    def __init__(self, plant: Plant, streams: Streams) -> None:
        self._zone = plant.about.zone
        self._out = streams.out

    def line(self, text: str) -> None:
        """Write a line at once; whatever it quotes cannot control the terminal."""
        moment = datetime.now(self._zone).strftime("%Y-%m-%d %H:%M:%S")
        plain = "".join(c if c.isprintable() else " " for c in text)
        self._out.write(f"{moment}  {plain}\n")
        self._out.flush()


def show_watch(plant: Plant, options: WatchOptions, pace: Pace, streams: Streams) -> ExitStatus:
    """Watch until it is stopped, or with ``once`` until nothing is left to be done."""
    log, stop = Log(plant, streams), threading.Event()
    watcher = Watcher(plant, options)
    names = ", ".join(f"{each.name} ({each.shown})" for each in options.channels)
    log.line(
        WATCHING.format(
            folders=", ".join(map(str, options.folders)),
            plant=plant.about.name or plant.folder,
            channels=POSTED_TO.format(names=names) if names else POSTED_NOT,
        )
    )
    with _stopped_by_signals(stop, log):
        if pace.once:
            return _once(watcher, log, stop, min(pace.every_s, LONGEST_STEP_S))
        _for_ever(watcher, log, stop, pace.every_s)
    log.line(STOPPED)
    return ExitStatus.EXAMINED


def _once(watcher: Watcher, log: Log, stop: threading.Event, pause_s: float) -> ExitStatus:
    """Do rounds until everything is at rest and dealt with."""
    events: list[Event] = []
    while not stop.is_set():
        for event in watcher.round(stop.is_set):
            events.append(event)
            log.line(line_of(event))
        if watcher.is_idle:
            break
        stop.wait(pause_s)
    return _status(events)


def _for_ever(watcher: Watcher, log: Log, stop: threading.Event, every_s: float) -> None:
    """Do rounds until it is stopped; what may be over at the next round ends nothing."""
    trouble = ""
    while not stop.is_set():
        try:
            for event in watcher.round(stop.is_set):
                log.line(line_of(event))
        except PASSING as error:
            if error.what != trouble:
                log.line(TROUBLE.format(error=error))
            trouble = error.what
        else:
            if trouble:
                log.line(OVER)
            trouble = ""
        stop.wait(every_s)


def _status(events: list[Event]) -> ExitStatus:
    """Return what a script may want to know of one run."""
    if any(isinstance(each, NotExamined) and each.needs_answer for each in events):
        return ExitStatus.NEEDS_ANSWER
    if any(map(_is_unusable, events)):
        return ExitStatus.UNREADABLE
    failed = (each for each in events if isinstance(each, Sent))
    taken = all(each.attempt.outcome is Outcome.TAKEN for each in failed)
    return ExitStatus.EXAMINED if taken else ExitStatus.NOT_WRITTEN


def _is_unusable(event: Event) -> bool:
    """Return whether something could not be used."""
    if isinstance(event, FileReport):
        return event.fate is Fate.REFUSED
    return isinstance(event, StillRefused | NotExamined | FolderGone)


@contextmanager
def _stopped_by_signals(stop: threading.Event, log: Log) -> Iterator[None]:
    """Let the first signal end the work after its step, and a second one at once."""

    def ask(number: int, _frame: FrameType | None) -> None:
        stop.set()
        signal.signal(number, before[signal.Signals(number)])
        log.line(ASKED)

    before = {number: signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)}
    for number in before:
        signal.signal(number, ask)
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def line_of(event: Event) -> str:
    """Return what happened in one line."""
    match event:
        case FileReport():
            return _file(event)
        case Examined():
            return _examined(event)
        case NotExamined():
            said = f"not examined  {event.motor.tag}, visit of {event.visit.day}: {event.error}"
            return said + _posted(event.messages)
        case FolderGone():
            return f"folder away  {event.folder}: {event.reason}"
        case StillRefused():
            files = counted((event.count, "file"))
            return f'refused again  {files} for the reason noted before ("cagewise import" tells)'
        case Sent():
            return sent(event)


def _file(event: FileReport) -> str:
    """Return what became of a file."""
    if event.fate is Fate.REFUSED:
        return f"refused  {event.path}: {event.reason}. {event.remedy}".rstrip()
    return f"imported  {event.path}: {event.tag}, visit of {event.day}"


def _examined(event: Examined) -> str:
    """Return what an examination found."""
    done = event.done
    states = "; ".join(
        f"{part} {wording.STATE[State(state)]}"
        for part, state in states_of_examination(done.examination).items()
    )
    head = f"examined  {event.motor.tag}, visit of {done.visit.day}: {states}"
    return f"{head} (examination {done.kept.id}){_posted(event.messages)}"


def _posted(messages: int) -> str:
    """Return how many messages were written."""
    return f"; {counted((messages, 'message'))} to be posted" if messages else ""


def sent(event: Sent) -> str:
    """Return what became of a message."""
    payload, said = event.message.payload, event.attempt.said
    about = f"{payload['motor']['tag']}, visit of {payload['visit_day']}, to {event.channel.name}"
    again = f" (attempt {event.message.attempts})" if event.message.attempts > 1 else ""
    match event.attempt.outcome:
        case Outcome.TAKEN:
            return f"posted  {about}{again}"
        case Outcome.REFUSED:
            return f'refused  {about}: {said}; kept, "cagewise post --again" sends it again'
        case Outcome.FAILED:
            return f"not posted  {about}{again}: {said}; again in {event.again_in_s:.0f} s"
