"""Sending what waits: to real receivers that fail, are slow, or go away."""

from __future__ import annotations

import importlib.util
import shutil
import socket
import subprocess
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cagewise.store import Plant
from cagewise.workflows.plant_post import (
    FIRST_PAUSE_S,
    LONGEST_PAUSE_S,
    Poster,
    Sent,
    content_of,
    pause_s,
)
from cagewise.workflows.post_delivery import Outcome, Patience
from cagewise.workflows.post_file import Channel
from support.receivers import broker, web

QUICK = Patience(step_s=0.3, whole_s=0.8)
PAYLOAD = {"motor": {"tag": "P-101"}, "visit_day": "2031-05-17", "said": "größer, 0,3 Ω"}

mqtt = pytest.mark.skipif(
    importlib.util.find_spec("paho") is None, reason="the extra mqtt is not installed"
)


class Clock:
    """A clock that is set by hand."""

    def __init__(self) -> None:
        self.time = datetime(2031, 5, 17, tzinfo=UTC)

    def __call__(self) -> datetime:
        return self.time


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture(scope="module")
def empty(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A plant of which each test gets a copy."""
    folder = tmp_path_factory.mktemp("empty") / "plant"
    Plant.create(folder).close()
    return folder


@pytest.fixture
def plant(empty: Path, tmp_path: Path, clock: Clock) -> Iterator[Plant]:
    """A plant with two messages for a channel."""
    shutil.copytree(empty, tmp_path / "plant")
    with Plant.open(tmp_path / "plant", clock=clock) as opened:
        for key in ("k1", "k2"):
            opened.outbox.put("hook", key, PAYLOAD | {"key": key})
        yield opened


def hook(url: str, **others: object) -> Channel:
    return Channel(name="hook", address=urlsplit(url), **others)  # type: ignore[arg-type] # a stand-in


def sent(plant: Plant, channel: Channel) -> Sequence[Sent]:
    return list(Poster(plant, [channel], QUICK).send())


def outcomes(reports: Sequence[Sent]) -> list[Outcome]:
    return [each.attempt.outcome for each in reports]


def test_messages_are_posted_once_in_their_order(plant: Plant) -> None:
    with web() as receiver:
        channel = hook(receiver.url, headers={"Authorization": "Bearer s3cret"})
        assert outcomes(sent(plant, channel)) == [Outcome.TAKEN] * 2
        assert sent(plant, channel) == []
    assert receiver.got == [(key, PAYLOAD | {"key": key}) for key in ("k1", "k2")]
    assert receiver.heads[0]["Content-Type"] == "application/json"
    assert receiver.heads[0]["Authorization"] == "Bearer s3cret"
    assert plant.outbox.unsent() == []


@pytest.mark.parametrize("trouble", [500, 503, 429, 401, 409, "close", "hang", "drip"])
def test_a_receiver_in_trouble_gets_the_same_message_later(
    plant: Plant, clock: Clock, trouble: int | str
) -> None:
    with web(trouble) as receiver:
        [failed] = sent(plant, hook(receiver.url))
        assert failed.attempt.outcome is Outcome.FAILED
        assert failed.again_in_s == FIRST_PAUSE_S
        assert sent(plant, hook(receiver.url)) == []  # all of its messages wait
        clock.time += timedelta(seconds=FIRST_PAUSE_S)
        assert outcomes(sent(plant, hook(receiver.url))) == [Outcome.TAKEN] * 2
    assert [key for key, _ in receiver.got] == ["k1", "k1", "k2"]
    assert receiver.got[0] == receiver.got[1]


def test_nobody_listens(plant: Plant) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        [failed] = sent(plant, hook(f"http://127.0.0.1:{taken.getsockname()[1]}/a"))
    assert failed.attempt.said == "nothing listens there"


@pytest.mark.parametrize("status", [400, 404, 410, 413, 422, 301, 302, 303])
def test_what_is_refused_is_kept_and_the_next_is_sent(plant: Plant, status: int) -> None:
    with web(status) as receiver:
        reports = sent(plant, hook(receiver.url))
        assert outcomes(reports) == [Outcome.REFUSED, Outcome.TAKEN]
        [left] = plant.outbox.unsent()
        assert (left.key, left.is_refused) == ("k1", True)
        assert str(status) in left.last_error
        assert sent(plant, hook(receiver.url)) == []
        assert plant.outbox.again(channels=["hook"]) == 1
        assert outcomes(sent(plant, hook(receiver.url))) == [Outcome.TAKEN]
    assert plant.outbox.unsent() == []


def test_a_wish_to_wait_is_granted_for_a_day_at_most(plant: Plant) -> None:
    with web(503, 503) as receiver:
        receiver.headers = {"Retry-After": "120"}
        [failed] = sent(plant, hook(receiver.url))
        assert failed.again_in_s == 120
        plant.outbox.again(channels=["hook"])
        receiver.headers = {"Retry-After": "Fri, 31 Dec 9999 23:59:59 GMT"}
        [failed] = sent(plant, hook(receiver.url))
        assert failed.again_in_s == 86400


def test_a_redirect_is_followed_in_the_same_place_only(plant: Plant) -> None:
    with web(307) as receiver, web() as other:
        receiver.headers = {"Location": "/elsewhere"}
        assert outcomes(sent(plant, hook(receiver.url))) == [Outcome.TAKEN] * 2
        assert receiver.paths == ["/findings", "/elsewhere", "/findings"]
        plant.outbox.put("hook", "k3", PAYLOAD)
        receiver.plan.append(308)
        receiver.headers = {"Location": other.url}
        secret = {"Authorization": "Bearer s3cret"}
        [refused] = sent(plant, hook(receiver.url, headers=secret))
        assert refused.attempt.outcome is Outcome.REFUSED
        assert "another place" in refused.attempt.said
        assert other.got == []
        plant.outbox.put("hook", "k4", PAYLOAD)
        receiver.plan += [307] * 9
        receiver.headers = {"Location": "/findings"}
        assert "circles" in sent(plant, hook(receiver.url))[0].attempt.said


def test_a_certificate_must_be_trusted(plant: Plant, tmp_path: Path) -> None:
    openssl = shutil.which("openssl")
    if openssl is None:
        pytest.skip("there is no openssl to make a certificate with")
    chain = (tmp_path / "cert.pem", tmp_path / "key.pem")
    command = [openssl, "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256"]
    command += [
        "-nodes",
        "-days",
        "2",
        "-subj",
        "/CN=test",
        "-addext",
        "subjectAltName=DNS:localhost",
    ]
    command += ["-out", str(chain[0]), "-keyout", str(chain[1])]
    subprocess.run(command, check=True, capture_output=True)  # noqa: S603 - our own words
    with web(chain=chain) as receiver:
        url = f"https://localhost:{receiver.port}/a"
        [failed] = sent(plant, hook(url))
        assert "certificate is not to be trusted" in failed.attempt.said
        plant.outbox.again(channels=["hook"])
        assert outcomes(sent(plant, hook(url, ca_file=chain[0]))) == [Outcome.TAKEN] * 2
        plant.outbox.put("hook", "k3", PAYLOAD)
        wrong_name = hook(f"https://127.0.0.1:{receiver.port}/a", ca_file=chain[0])
        assert "certificate is not to be trusted" in sent(plant, wrong_name)[0].attempt.said
    assert [key for key, _ in receiver.got] == ["k1", "k2"]


@mqtt
def test_a_broker_gets_each_message_and_confirms(plant: Plant) -> None:
    with broker() as receiver:
        login = {"user": "u", "password": "p"}
        channel = hook(f"mqtt://127.0.0.1:{receiver.port}", topic="mill/findings", **login)
        assert outcomes(sent(plant, channel)) == [Outcome.TAKEN] * 2
    assert receiver.got == [("mill/findings", PAYLOAD | {"key": key}) for key in ("k1", "k2")]
    assert receiver.logins == [("u", "p")] * 2
    assert receiver.faults == []


@mqtt
@pytest.mark.parametrize(
    ("trouble", "said", "arrived"),
    [
        ("lose", "did not confirm", 3),
        ("silent", "did not confirm", 3),
        ("deny", "lets nobody in", 2),
        ("mute", "does not answer", 2),
    ],
)
def test_a_broker_in_trouble_gets_the_same_message_later(
    plant: Plant, clock: Clock, trouble: str, said: str, arrived: int
) -> None:
    with broker(trouble) as receiver:
        channel = hook(f"mqtt://127.0.0.1:{receiver.port}", topic="t")
        [failed] = sent(plant, channel)
        assert failed.attempt.outcome is Outcome.FAILED
        assert said in failed.attempt.said
        clock.time += timedelta(seconds=FIRST_PAUSE_S)
        assert outcomes(sent(plant, channel)) == [Outcome.TAKEN] * 2
    assert [content["key"] for _, content in receiver.got] == ["k1", "k1", "k2"][-arrived:]
    assert receiver.faults == []


@mqtt
def test_no_broker_listens(plant: Plant) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        port = taken.getsockname()[1]
        [failed] = sent(plant, hook(f"mqtt://127.0.0.1:{port}", topic="t"))
    assert failed.attempt.said == "nothing listens there"


@given(attempts=st.integers(1, 10**9), asked_s=st.floats(0.0, 86400.0))
def test_pauses_grow_to_an_hour_and_grant_what_is_asked(attempts: int, asked_s: float) -> None:
    pause = pause_s(attempts, asked_s)
    assert FIRST_PAUSE_S <= pause <= max(LONGEST_PAUSE_S, asked_s)
    assert pause >= asked_s
    assert pause <= pause_s(attempts + 1, asked_s)
    if pause_s(attempts) < LONGEST_PAUSE_S / 2:
        assert pause_s(attempts + 1) == 2 * pause_s(attempts)
    timedelta(seconds=pause)  # can be added to a time


JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(exclude_categories=["Cs"])),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(max_size=3), inner),
    max_leaves=8,
)


@given(content=st.dictionaries(st.text(max_size=3), JSON, max_size=4))
def test_a_message_is_the_same_bytes_in_whatever_order_it_was_kept(
    content: dict[str, object],
) -> None:
    assert content_of(dict(reversed(content.items()))) == content_of(content)
