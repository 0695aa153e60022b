"""Publishing a message to an MQTT broker, version 3.1.1, quality of service 1.

Quality 1 means that the broker confirms each message (PUBACK) and may get one twice. Quality 2
would let it recognise a repetition within one session, and only if the sender kept the numbers of
its packets over a kill; it says nothing of the way from the broker to the receiver. The key in the
message tells a repetition all the way, so quality 1 with it is worth more than 2 without.
"""

from __future__ import annotations

import importlib.util
import time
from typing import TYPE_CHECKING, Any

from cagewise.errors import MissingExtraError
from cagewise.workflows.post_delivery import (
    Attempt,
    Outcome,
    Patience,
    failure,
    security,
    within,
)
from cagewise.workflows.post_file import Channel

if TYPE_CHECKING:
    from paho.mqtt.client import Client

QUALITY = 1
_KEEP_ALIVE_S = 60
_STEP_S = 0.1
"""Longest wait for bytes before the time is looked at again."""


def require_library() -> None:
    """Raise unless the optional library is there.

    Raises
    ------
    MissingExtraError
        With how to install it.
    """
    if importlib.util.find_spec("paho") is None:
        raise MissingExtraError(
            "post.toml names an MQTT broker, and the library for it is not installed",
            remedy="pip install 'cagewise[mqtt]'",
        )


def publish(channel: Channel, key: str, content: bytes, patience: Patience) -> Attempt:  # noqa: ARG001 - the key is in the content
    """Publish one message, and wait until the broker has confirmed it."""
    return within(patience, lambda: _published(channel, content, patience))


def _published(channel: Channel, content: bytes, patience: Patience) -> Attempt:
    """Connect, publish, wait, and take leave."""
    client = _client(channel, patience)
    answers: list[Any] = []
    client.on_connect = lambda *about: answers.append(about[3])
    try:
        client.connect(channel.host, channel.port, keepalive=_KEEP_ALIVE_S)
        if not _looped(client, patience, lambda: bool(answers)):
            return Attempt(outcome=Outcome.FAILED, said="the broker does not answer")
        if answers[0].is_failure:
            return Attempt(outcome=Outcome.FAILED, said=f"the broker lets nobody in ({answers[0]})")
        sent = client.publish(channel.topic, content, qos=QUALITY)
        taken = _looped(client, patience, sent.is_published)
        client.disconnect()
    except (OSError, ValueError, RuntimeError) as error:
        return failure(error)
    if taken:
        return Attempt(outcome=Outcome.TAKEN)
    return Attempt(outcome=Outcome.FAILED, said="the broker did not confirm the message")


def _client(channel: Channel, patience: Patience) -> Client:
    """Return a client that stays for one message: the broker keeps no session for it."""
    from paho.mqtt.client import Client, MQTTv311
    from paho.mqtt.enums import CallbackAPIVersion

    client = Client(
        CallbackAPIVersion.VERSION2,
        client_id="",
        clean_session=True,
        protocol=MQTTv311,
        reconnect_on_failure=False,
    )
    client.connect_timeout = patience.step_s
    if channel.user:
        client.username_pw_set(channel.user, channel.password or None)
    if channel.is_encrypted:
        client.tls_set_context(security(channel))
    return client


def _looped(client: Client, patience: Patience, until: Any) -> bool:  # noqa: ANN401 - a method of the library
    """Exchange bytes until something is so; return whether it came to be."""
    from paho.mqtt.enums import MQTTErrorCode

    deadline = time.monotonic() + patience.step_s
    while time.monotonic() < deadline:
        if client.loop(_STEP_S) is not MQTTErrorCode.MQTT_ERR_SUCCESS:
            return bool(until())
        if until():
            return True
    return False
