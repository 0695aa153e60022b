"""``post.toml`` in the folder of a plant: to whom findings are posted.

It is a file of its own beside ``plant.toml``: an archive of a plant leaves it behind, so that a
copy that was restored to look at it posts nothing. No password stands in it: it names the
environment variables that hold them.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from pathlib import Path
from urllib.parse import SplitResult, urlsplit

from cagewise.decision.verdict import State
from cagewise.errors import PlantFolderError

NAME = "post.toml"
FILE_SCHEMA = 1
WHO = "the engineer responsible for this motor"
"""Who is asked to look when the file does not say."""

WEB = ("http", "https")
BROKER = ("mqtt", "mqtts")
ENCRYPTED = ("https", "mqtts")
PORTS: Mapping[str, int] = {"http": 80, "https": 443, "mqtt": 1883, "mqtts": 8883}
"""Of the registry of service names (IANA): those of http, https, mqtt and secure-mqtt."""

_KINDS: Mapping[str, tuple[type, str]] = {
    "channel": (str, "text"),
    "url": (str, "text"),
    "url_from": (str, "the name of an environment variable"),
    "topic": (str, "text"),
    "user": (str, "text"),
    "password_from": (str, "the name of an environment variable"),
    "headers_from": (dict, 'a table as in { Authorization = "NAME_OF_A_VARIABLE" }'),
    "ca_file": (str, "the name of a file"),
    "states": (list, 'a list as in ["suspect", "defective"]'),
    "only_changes": (bool, "true or false"),
    "latest_only": (bool, "true or false"),
    "questions": (bool, "true or false"),
    "who": (str, "text"),
    "accept_unencrypted": (bool, "true or false"),
}
_OURS = frozenset({"host", "content-length", "content-type", "idempotency-key", "user-agent"})
"""Headers that the sender sets itself."""

_WORD = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.-]*")
_HEADER = re.compile(r"[!#$%&'*+.^_`|~0-9A-Za-z-]+")
"""A token of RFC 9110, section 5.6.2."""

_REMEDY = "See docs/history.md, Watching a folder."
_LONGEST_TOPIC_BYTES = 65535
"""Of a string of MQTT 3.1.1, section 1.5.3."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Channel:
    """Where findings go, and which."""

    name: str
    """In the outbox; messages that wait under it go where it points now."""
    address: SplitResult = field(repr=False)
    """Not to be shown whole: the path of a webhook may be its password."""
    topic: str = ""
    user: str = ""
    password: str = field(default="", repr=False)
    headers: Mapping[str, str] = field(default_factory=dict, repr=False)
    """Beside those that the sender sets."""
    ca_file: Path | None = None
    """Certificates to trust in place of those of the system."""
    states: frozenset[State] = frozenset(State)
    """A finding goes here when the cage or another part is in one of these."""
    only_changes: bool = False
    """A finding goes here only if a state differs from that of the examination before."""
    latest_only: bool = False
    """A finding goes here only if there is no later visit to the motor: a folder of many years that
    is watched for the first time tells what is, not all that was."""
    questions: bool = True
    """Whether visits that could not be examined are told."""
    who: str = WHO

    @property
    def host(self) -> str:
        """The other machine."""
        return self.address.hostname or ""

    @property
    def port(self) -> int:
        """Its port."""
        return self.address.port or PORTS[self.address.scheme]

    @property
    def shown(self) -> str:
        """The address as it may be shown: without path and query."""
        place = f"{self.address.scheme}://{self.address.netloc}"
        return f"{place} {self.topic}".strip()

    @property
    def is_broker(self) -> bool:
        """Whether it speaks MQTT."""
        return self.address.scheme in BROKER

    @property
    def is_local(self) -> bool:
        """Whether the other machine is this one."""
        return self.host in {"localhost", "127.0.0.1", "::1"}

    @property
    def is_encrypted(self) -> bool:
        """Whether nobody on the way can read along."""
        return self.address.scheme in ENCRYPTED


def read_post_file(folder: Path, environ: Mapping[str, str]) -> tuple[Channel, ...]:
    """Return the channels of a plant; none if it has no ``post.toml``.

    Parameters
    ----------
    folder
        Of the plant.
    environ
        Where passwords and secret addresses are.

    Raises
    ------
    PlantFolderError
        If the file cannot be used, or a variable that it names is not there; all faults at once.
    """
    path = folder / NAME
    if not path.is_file():
        return ()
    try:
        content = tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, OSError) as error:
        raise PlantFolderError(
            f"this cannot be read as TOML: {error}", where=str(path), remedy=_REMEDY
        ) from error
    faults = list(_outer_faults(content))
    channels = []
    if not faults:
        for number, table in enumerate(content["post"], start=1):
            entry = _Entry(table, folder, environ)
            channels.append(entry.channel())
            faults += [f"[[post]] number {number}: {fault}" for fault in entry.faults]
        faults += _same_names(channels)
    if faults:
        raise PlantFolderError("; ".join(faults), where=str(path), remedy=_REMEDY)
    return tuple(channels)


def _outer_faults(content: Mapping[str, object]) -> Iterator[str]:
    """Yield what is wrong before the channels are looked at."""
    if content.get("schema") != FILE_SCHEMA:
        yield f"it does not say `schema = {FILE_SCHEMA}`"
    for key in content.keys() - {"schema", "post"}:
        yield f"unknown key `{key}`"
    tables = content.get("post")
    if not isinstance(tables, list) or not all(isinstance(each, dict) for each in tables):
        yield "it names no channel: write [[post]] above its keys"


def _same_names(channels: Sequence[Channel]) -> Iterator[str]:
    """Yield which names are given twice."""
    names = [each.name for each in channels]
    for name in sorted({each for each in names if names.count(each) > 1 and each}):
        yield f"two channels are named {name!r}"


class _Entry:
    """One table of the file, looked at key by key."""

    def __init__(
        self, table: Mapping[str, object], folder: Path, environ: Mapping[str, str]
    ) -> None:
        self.faults = list(_wrong_kinds(table))
        self._table = {k: v for k, v in table.items() if isinstance(v, _KINDS.get(k, (object,))[0])}
        self._folder = folder
        self._environ = environ

    def channel(self) -> Channel:
        """Return the channel; what is wrong with it stands in ``faults``."""
        address = self._address()
        headers = {
            name: self._secret(f"headers_from.{name}", variable)
            for name, variable in self._headers()
        }
        made = Channel(
            name=self._name(),
            address=address,
            topic=self._text("topic"),
            user=self._text("user"),
            password=self._secret("password_from", self._text("password_from")),
            headers=headers,
            ca_file=self._ca_file(),
            states=self._states(),
            only_changes=bool(self._table.get("only_changes", False)),
            latest_only=bool(self._table.get("latest_only", False)),
            questions=bool(self._table.get("questions", True)),
            who=self._text("who") or WHO,
        )
        self.faults += _contradictions(made, open_way=bool(self._table.get("accept_unencrypted")))
        return made

    def _text(self, key: str) -> str:
        return str(self._table.get(key, "")).strip()

    def _name(self) -> str:
        name = self._text("channel")
        if not _WORD.fullmatch(name):
            self.faults.append("`channel` must be a name of letters, digits, and . _ -")
        return name

    def _address(self) -> SplitResult:
        """Return where it goes; of the file, or of the environment where the path is secret."""
        stated, variable = self._text("url"), self._text("url_from")
        if bool(stated) == bool(variable):
            self.faults.append("it needs one of `url` and `url_from`")
        text = stated or self._secret("url_from", variable)
        try:
            address = urlsplit(text)
            _ = address.port
        except ValueError:
            address = urlsplit("")
        if text and (address.scheme not in PORTS or not address.hostname):
            self.faults.append("the address must begin with https://, http://, mqtts:// or mqtt://")
        if address.username or address.password or address.fragment:
            self.faults.append("the address must hold no user, no password and no #")
        return address

    def _headers(self) -> Iterator[tuple[str, str]]:
        """Yield names of headers with the variables that hold them."""
        table = self._table.get("headers_from", {})
        for name, variable in table.items() if isinstance(table, dict) else ():
            usable = _HEADER.fullmatch(name) and name.casefold() not in _OURS
            if usable and isinstance(variable, str):
                yield name, variable
            else:
                self.faults.append(f"`headers_from` cannot set {name!r}")

    def _secret(self, key: str, variable: str) -> str:
        """Return the content of an environment variable."""
        if not variable:
            return ""
        value = self._environ.get(variable, "").strip()
        if not value or not value.isprintable():
            self.faults.append(f"`{key}`: the environment variable {variable} holds nothing usable")
        return value

    def _ca_file(self) -> Path | None:
        name = self._text("ca_file")
        path = self._folder / name
        if name and not path.is_file():
            self.faults.append(f"`ca_file`: there is no file {path}")
        return path if name else None

    def _states(self) -> frozenset[State]:
        stated = self._table.get("states")
        if not isinstance(stated, list):
            return frozenset(State)
        known = {state.value for state in State}
        if not stated or not set(map(str, stated)) <= known:
            names = ", ".join(f'"{each}"' for each in known)
            self.faults.append(f"`states` must list some of {names}; leave it out for all")
        return frozenset(State(each) for each in map(str, stated) if each in known)


def _wrong_kinds(table: Mapping[str, object]) -> Iterator[str]:
    """Yield keys that are not known, and values that are of another kind."""
    for key, value in table.items():
        if key not in _KINDS:
            close = get_close_matches(key, _KINDS, n=1)
            yield f"unknown key `{key}`" + (f" (did you mean `{close[0]}`?)" if close else "")
        elif not isinstance(value, _KINDS[key][0]):
            yield f"`{key}` must be {_KINDS[key][1]}"


def _contradictions(channel: Channel, *, open_way: bool) -> Iterator[str]:
    """Yield what does not go together in a channel."""
    broker = channel.is_broker
    if broker != bool(channel.topic):
        yield "`topic` goes with mqtt:// and mqtts://, and they need it"
    if not broker and (channel.user or channel.password):
        yield "`user` and `password_from` are for mqtt; for a webhook use `headers_from`"
    if broker and (channel.headers or channel.address.path.strip("/") or channel.address.query):
        yield "a broker takes no `headers_from` and no path"
    if channel.password and not channel.user:
        yield "`password_from` needs a `user`"
    too_long = len(channel.topic.encode()) > _LONGEST_TOPIC_BYTES
    if too_long or any(sign in channel.topic for sign in "+#\0"):
        yield "`topic` must be short and hold no + and no #"
    secret = bool(channel.password or channel.headers)
    if secret and not (channel.is_encrypted or channel.is_local or open_way):
        yield (
            "a password would go to another machine for all to read: use https:// or mqtts://, "
            "or say `accept_unencrypted = true`"
        )
