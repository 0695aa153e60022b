from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest

from cagewise.store import Plant

LEASE = timedelta(minutes=5)


class Clock:
    """A clock that is set by hand."""

    def __init__(self) -> None:
        self.time = datetime(2026, 3, 1, tzinfo=UTC)

    def __call__(self) -> datetime:
        return self.time

    def pass_by(self, duration: timedelta) -> None:
        self.time += duration


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def timed(plant: Plant, clock: Clock) -> Iterator[Plant]:
    """The plant with a clock that is set by hand."""
    with Plant.open(plant.folder, clock=clock) as opened:
        yield opened


def test_a_message_enters_a_channel_once(timed: Plant) -> None:
    assert timed.outbox.put("webhook", "finding 1", {"state": "suspect"})
    assert not timed.outbox.put("webhook", "finding 1", {"state": "sound"})
    assert timed.outbox.put("topic", "finding 1", {})
    assert timed.outbox.waiting() == 2


def test_a_message_that_was_sent_is_never_given_out_again(timed: Plant, clock: Clock) -> None:
    timed.outbox.put("webhook", "1", {"a": [1, None]})
    [message] = timed.outbox.claim()
    assert (message.key, message.payload, message.attempts) == ("1", {"a": [1, None]}, 1)
    assert timed.outbox.claim() == []
    assert timed.outbox.done(message)
    clock.pass_by(timedelta(days=365))
    assert timed.outbox.claim() == []
    assert not timed.outbox.put("webhook", "1", {})
    assert timed.outbox.waiting() == 0


def test_a_claim_runs_out_and_the_late_one_cannot_say_done(timed: Plant, clock: Clock) -> None:
    timed.outbox.put("webhook", "1", {})
    [late] = timed.outbox.claim(lease=LEASE)
    clock.pass_by(LEASE)
    [again] = timed.outbox.claim(lease=LEASE)
    assert (again.key, again.attempts) == ("1", 2)
    assert not timed.outbox.done(late)
    assert not timed.outbox.failed(late, "no answer", again_in=LEASE)
    assert timed.outbox.done(again)


def test_a_failure_is_tried_again_later(timed: Plant, clock: Clock) -> None:
    timed.outbox.put("webhook", "1", {})
    [message] = timed.outbox.claim()
    assert timed.outbox.failed(message, "no answer", again_in=timedelta(hours=1))
    assert timed.outbox.claim() == []
    clock.pass_by(timedelta(hours=1))
    assert [each.attempts for each in timed.outbox.claim()] == [2]


def test_messages_come_in_order_and_by_channel(timed: Plant) -> None:
    for key in ("1", "2", "3"):
        timed.outbox.put("webhook" if key != "2" else "topic", key, {})
    assert [each.key for each in timed.outbox.claim(channels=["webhook"], most=9)] == ["1", "3"]
    assert [each.key for each in timed.outbox.claim(most=9)] == ["2"]


def test_a_message_stands_and_falls_with_what_it_tells(timed: Plant) -> None:
    def begin() -> None:
        with timed.writing():
            timed.outbox.put("webhook", "1", {})
            message = "something went wrong"
            raise RuntimeError(message)

    with pytest.raises(RuntimeError):
        begin()
    assert timed.outbox.waiting() == 0


def test_what_was_refused_is_kept_until_somebody_asks_for_it(timed: Plant, clock: Clock) -> None:
    for key in ("1", "2"):
        timed.outbox.put("webhook", key, {"n": key})
    [message] = timed.outbox.claim()
    assert timed.outbox.refused(message, "it answered 400")
    clock.pass_by(timedelta(days=3650))
    [second] = timed.outbox.claim(most=9)
    assert second.key == "2"
    assert timed.outbox.done(second)
    [left] = timed.outbox.unsent()
    assert (left.key, left.is_refused, left.last_error) == ("1", True, "it answered 400")
    assert timed.outbox.again(channels=["topic"]) == 0
    assert timed.outbox.again(channels=["webhook"]) == 1
    assert [each.attempts for each in timed.outbox.claim()] == [2]


def test_a_channel_rests_while_one_of_its_messages_does(timed: Plant, clock: Clock) -> None:
    for key in ("1", "2"):
        timed.outbox.put("webhook", key, {})
    [message] = timed.outbox.claim()
    assert not timed.outbox.rests("webhook")
    assert timed.outbox.failed(message, "no answer", again_in=timedelta(minutes=1))
    assert timed.outbox.rests("webhook")
    assert not timed.outbox.rests("topic")
    clock.pass_by(timedelta(minutes=1))
    assert not timed.outbox.rests("webhook")
    [message] = timed.outbox.claim()
    timed.outbox.refused(message, "it answered 400")
    assert not timed.outbox.rests("webhook")  # the others need not wait for it


def test_what_is_being_sent_is_left_to_its_sender(timed: Plant) -> None:
    timed.outbox.put("webhook", "1", {})
    [message] = timed.outbox.claim()
    assert timed.outbox.again(channels=["webhook"]) == 0
    assert timed.outbox.done(message)
