"""Use case: what waits in the outbox of a plant is sent, and what could not be sent is shown."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta

from cagewise.store import Message, Plant
from cagewise.workflows import post_http, post_mqtt
from cagewise.workflows.post_delivery import Attempt, Deliver, Outcome, Patience
from cagewise.workflows.post_file import Channel

FIRST_PAUSE_S = 15.0
"""After the first failure. It is doubled with each, so that a receiver that is restarted is asked
soon, and one that is gone for a week is not asked forty thousand times. Common practice, no
source."""
LONGEST_PAUSE_S = 3600.0
"""A finding on a motor need not come faster than an hour after its receiver is back."""
_MOST_DOUBLINGS = 16
"""Beyond the longest pause; keeps the power small after years of attempts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """What became of one message."""

    channel: Channel
    message: Message
    attempt: Attempt
    again_in_s: float = 0.0
    """Until the next attempt, where it failed."""


def pause_s(attempts: int, asked_s: float = 0.0) -> float:
    """Return the pause after a number of attempts that all failed.

    Parameters
    ----------
    attempts
        So far, at least one.
    asked_s
        What the receiver asked for; it gets at least that.
    """
    doubled = FIRST_PAUSE_S * 2.0 ** min(attempts - 1, _MOST_DOUBLINGS)
    return max(min(doubled, LONGEST_PAUSE_S), asked_s)


class Poster:
    """Sends the messages of a plant, channel by channel, the oldest first.

    A channel that fails rests with all its messages: the order is kept as far as that is possible,
    and a receiver that is gone is not asked once for each of them.

    Parameters
    ----------
    plant
        Open for writing.
    channels
        Of its ``post.toml``.
    patience
        With one attempt.

    Raises
    ------
    MissingExtraError
        If a channel needs a library that is not there.
    """

    def __init__(
        self, plant: Plant, channels: Sequence[Channel], patience: Patience | None = None
    ) -> None:
        self._plant = plant
        self._channels = channels
        self._patience = patience or Patience()
        if any(channel.is_broker for channel in channels):
            post_mqtt.require_library()

    def send(self, stopped: Callable[[], bool] = lambda: False) -> Iterator[Sent]:
        """Send what may be sent now; yield what became of each message."""
        for channel in self._channels:
            if not self._plant.outbox.rests(channel.name):
                yield from self._send_to(channel, stopped)

    def _send_to(self, channel: Channel, stopped: Callable[[], bool]) -> Iterator[Sent]:
        """Send to one channel until it is empty or fails."""
        deliver: Deliver = post_mqtt.publish if channel.is_broker else post_http.post
        while not stopped():
            claimed = self._plant.outbox.claim(channels=[channel.name])
            if not claimed:
                return
            message = claimed[0]
            attempt = deliver(channel, message.key, content_of(message.payload), self._patience)
            yield (sent := self._noted(channel, message, attempt))
            if sent.attempt.outcome is Outcome.FAILED:
                return

    def _noted(self, channel: Channel, message: Message, attempt: Attempt) -> Sent:
        """Write down what became of a message."""
        outbox, again_in_s = self._plant.outbox, 0.0
        if attempt.outcome is Outcome.TAKEN:
            outbox.done(message)
        elif attempt.outcome is Outcome.REFUSED:
            outbox.refused(message, attempt.said)
        else:
            again_in_s = pause_s(message.attempts, attempt.wait_s)
            outbox.failed(message, attempt.said, again_in=timedelta(seconds=again_in_s))
        return Sent(channel=channel, message=message, attempt=attempt, again_in_s=again_in_s)


def content_of(payload: Mapping[str, object]) -> bytes:
    """Return a message as it goes over the wire: JSON in UTF-8, the same whenever it is sent."""
    return json.dumps(payload, ensure_ascii=False, sort_keys=True, allow_nan=False).encode("utf-8")
