"""Which channel is which, from names and units alone.

A guess from a name is only a proposal: physics (sign of power, phase sequence, line or phase
voltage) checks it later. It is therefore careful: what could be read in two ways stays
unassigned, and two feeders in one file leave the question to the user.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from cagewise.errors import ChannelRoleError
from cagewise.measurement.recording import Channel, Recording, Role
from cagewise.measurement.role_text import apply_role_texts, parse_role_options, parse_role_text
from cagewise.measurement.role_words import (
    COMPONENTS,
    CURRENT_WORDS,
    DERIVED_WORDS,
    FILLERS,
    LOOKALIKES,
    NEUTRALS,
    PHASE_WORDS,
    VOLTAGE_WORDS,
)

__all__ = ["apply_roles", "guess_missing_roles", "guess_role", "parse_role_options"]

_CURRENT = "current"
_VOLTAGE = "voltage"

_KIND_OF_WORD: Mapping[str, str] = {
    **dict.fromkeys(CURRENT_WORDS, _CURRENT),
    **dict.fromkeys(VOLTAGE_WORDS, _VOLTAGE),
}

_PHASES: Mapping[str, str] = {
    **{letter: letter for letter in "abc"},
    **dict(zip("rst", "abc", strict=True)),
    **dict(zip("uvw", "abc", strict=True)),
    **dict(zip("123", "abc", strict=True)),
}
"""Phase letter of the file's naming system -> a, b, c."""

_PHASE = r"(?:l|ph|phase|fase)?([abcrstuvw123])"
_NAMED = re.compile(
    rf"(?:(?P<current>i){_PHASE}|(?P<voltage>[uv]){_PHASE}(?:(?P<neutral>[n0])|{_PHASE})?)"
    r"(?P<feeder>\d?)",
)
"""Quantity and phase in one word: ia, il1, iph1, va, ul1n, uab, vl1l2, ia2 (second feeder)."""

_BARE = re.compile(rf"{_PHASE}(?:(?P<neutral>[n0])|{_PHASE})?")
"""Phase without a quantity letter, meaningful only when the kind is known: l1, a, ab, l1l2, an."""

_KIND_OF_UNIT: Mapping[str, str] = {"A": _CURRENT, "V": _VOLTAGE}
_UNIT_SAYS_NOTHING = frozenset({"", "-", "1", "none", "one", "counts", "count", "lsb"})


_ROLES: Mapping[str, Role] = {role.value: role for role in Role}


@dataclass(frozen=True, slots=True)
class _Meaning:
    """How a name was read."""

    kind: str
    system: str
    """Which letters the file uses: "abc", "rst", "uvw" or "123"."""
    phases: str
    """One letter for a current or a phase voltage, two for a line voltage, of a, b, c."""

    @property
    def role(self) -> Role:
        """Return the role, unassigned for a line voltage that is written backwards."""
        prefix = "i" if self.kind == _CURRENT else "v"
        return _ROLES.get(f"{prefix}_{self.phases}", Role.UNASSIGNED)

    @property
    def group(self) -> str:
        """Return the set that must be free of contradictions within itself."""
        if self.kind == _CURRENT:
            return "currents"
        return "phase voltages" if len(self.phases) == 1 else "line voltages"


def guess_role(name: str, unit: str = "") -> Role:
    """Return the role that a channel's name and unit suggest.

    ``OTHER`` means that the name or unit says it is no stator phase quantity; ``UNASSIGNED`` that
    nothing certain can be said.

    Examples
    --------
    >>> [str(guess_role(name, unit)) for name, unit in [("IL1", "A"), ("U12", "V"), ("B", "")]]
    ['i_a', 'v_ab', 'unassigned']
    """
    kind = _KIND_OF_UNIT.get(unit)
    words = _words_of(name)
    if kind is None and unit.casefold() not in _UNIT_SAYS_NOTHING:
        return Role.OTHER
    if any(word in DERIVED_WORDS for word in words):
        return Role.OTHER
    meanings = _readings(words, kind)
    if not meanings and not NEUTRALS.isdisjoint((*words, "".join(words))):
        return Role.OTHER
    return meanings[0].role if len(meanings) == 1 else Role.UNASSIGNED


def guess_missing_roles(recording: Recording) -> Recording:
    """Return the recording with roles guessed for the channels that have none.

    A kind of quantity (currents, phase voltages, line voltages) of which any channel already has
    a role is left alone. Within a kind, nothing is assigned when two channels suggest the same
    phase (two feeders), when two naming systems are mixed, or when the names may be symmetrical
    components; a note lists the candidates.
    """
    stated = {_group_of(role) for role in recording.roles - {Role.OTHER, Role.UNASSIGNED}}
    candidates: dict[str, list[tuple[Channel, _Meaning]]] = {}
    roles: dict[str, Role] = {}
    for channel, meanings in _channel_readings(recording.channels):
        for meaning in meanings:
            candidates.setdefault(meaning.group, []).append((channel, meaning))
        if not meanings and guess_role(channel.name, channel.unit) is Role.OTHER:
            roles[channel.name] = Role.OTHER
    notes: list[str] = []
    everything = {_folded(channel.name) for channel in recording.channels}
    for group, members in candidates.items():
        if group in stated:
            continue
        trouble = _trouble(members, everything)
        if trouble:
            listed = ", ".join(repr(channel.name) for channel, _ in members)
            notes.append(f"roles of {group} not guessed: {trouble}; candidates: {listed}")
        else:
            roles |= {channel.name: meaning.role for channel, meaning in members}
    provenance = replace(
        recording.provenance, notes=tuple(dict.fromkeys((*recording.provenance.notes, *notes)))
    )
    return replace(recording.with_roles(roles), provenance=provenance)


def apply_roles(recording: Recording, mapping: Mapping[str, str]) -> Recording:
    """Return the recording with stated roles: channel name or number -> ``[-]ROLE[*NUMBER]``.

    A leading minus reverses the polarity. A number stands for a channel that has no name of its
    own (``column 2``, ``channel 2``). A stated role is taken from a channel that held it before.

    Raises
    ------
    ChannelRoleError
        If a channel or role does not exist, or two channels are given the same role.
    """
    if not mapping:
        return recording
    texts = {channel_name(recording, key): parse_role_text(text) for key, text in mapping.items()}
    claimed = {text.role for text in texts.values()} - {Role.OTHER, Role.UNASSIGNED}
    channels = tuple(
        replace(c, role=Role.UNASSIGNED) if c.role in claimed and c.name not in texts else c
        for c in recording.channels
    )
    return apply_role_texts(replace(recording, channels=channels), texts)


def channel_name(recording: Recording, key: str) -> str:
    """Return the name of the channel that ``key`` (a name, or the number of a nameless one) means.

    Raises
    ------
    ChannelRoleError
        If there is none; a number never means a channel that has a name of its own.
    """
    names = [channel.name for channel in recording.channels]
    for name in (key, f"column {key}", f"channel {key}"):
        if name in names:
            return name
    raise ChannelRoleError(
        f"there is no channel named {key!r}",
        where=recording.provenance.source,
        remedy=f"The channels are: {', '.join(names)}.",
    )


def _folded(text: str) -> str:
    """Return ``text`` in small letters without accents."""
    plain = unicodedata.normalize("NFKD", text.casefold()).translate(LOOKALIKES)
    return "".join(letter for letter in plain if not unicodedata.combining(letter))


def _words_of(name: str) -> tuple[str, ...]:
    """Return the words of a channel name, small, without accents and numbering ("3-Ic" -> ic)."""
    words = re.findall(r"[^\W_]+", _folded(name))
    return tuple(words[1:]) if len(words) > 1 and words[0].isdigit() else tuple(words)


def _readings(words: tuple[str, ...], kind: str | None) -> list[_Meaning]:
    """Return the possible meanings of a name; more than one means it is ambiguous."""
    spoken = {_KIND_OF_WORD[word] for word in words if word in _KIND_OF_WORD}
    kinds = spoken | ({kind} if kind else set())
    if len(kinds) > 1:
        return []
    rest = [word for word in words if word not in _KIND_OF_WORD and word not in FILLERS]
    known = next(iter(kinds), None)
    digits = not PHASE_WORDS.isdisjoint(words)
    whole = _meanings_of_word("".join(rest), known, digits=digits)
    if whole or not rest:
        return whole
    single = [meanings for word in rest if (meanings := _meanings_of_word(word, known, bare=False))]
    return single[0] if len(single) == 1 else []


def _meanings_of_word(
    word: str, kind: str | None, *, bare: bool = True, digits: bool = False
) -> list[_Meaning]:
    """Return the meanings of one word, as quantity-and-phase and (if ``bare``) as phase alone."""
    if word in ("u", "v") or word in NEUTRALS:
        return []  # "u": the symbol of voltage or a phase, settled in `_channel_readings`
    found = []
    match = _NAMED.fullmatch(word)
    if match:
        named = _CURRENT if match["current"] else _VOLTAGE
        letters = [group for group in match.group(2, 4, 6) if group]
        found += _meaning(named, letters, feeder=match["feeder"]) if kind in (None, named) else []
    pair = len(word) == 2 and set(word) <= set("uvw")
    alone = kind or (_VOLTAGE if pair else None)
    match = _BARE.fullmatch(word) if bare and alone else None
    if match and alone and (digits or not word.isdigit()):
        found += _meaning(alone, [group for group in match.group(1, 3) if group], feeder="")
    return list(dict.fromkeys(found))


def _meaning(kind: str, letters: list[str], *, feeder: str) -> list[_Meaning]:
    """Return the meaning of phase letters, or nothing when they contradict each other."""
    systems = {_system_of(letter) for letter in letters}
    if len(systems) != 1 or len(set(letters)) != len(letters):
        return []
    system = systems.pop()
    if (feeder and system == "123") or (kind == _CURRENT and len(letters) > 1):
        return []
    return [_Meaning(kind, system, "".join(_PHASES[letter] for letter in letters))]


def _system_of(letter: str) -> str:
    """Return the naming system that a phase letter belongs to."""
    return next(system for system in ("abc", "rst", "uvw", "123") if letter in system)


def _channel_readings(
    channels: tuple[Channel, ...],
) -> Iterable[tuple[Channel, list[_Meaning]]]:
    """Yield each unassigned channel with its meaning, settling U-V-W names by their company."""
    open_channels = [channel for channel in channels if channel.role is Role.UNASSIGNED]
    company = {"".join(_words_of(channel.name)) for channel in open_channels}
    for channel in open_channels:
        words = _words_of(channel.name)
        kind = _KIND_OF_UNIT.get(channel.unit)
        word = "".join(words)
        if guess_role(channel.name, channel.unit) is Role.OTHER:
            yield channel, []
        elif kind and word in ("u", "v", "w") and {"u", "v", "w"} <= company:
            yield channel, _meaning(kind, [word], feeder="")
        else:
            meanings = _readings(words, kind)
            if len(meanings) > 1:
                meanings = [m for m in meanings if _company_agrees(m, word, company)]
            yield channel, meanings if len(meanings) == 1 else []


def _company_agrees(meaning: _Meaning, word: str, company: set[str]) -> bool:
    """Return whether the other names bear out one reading of an ambiguous name such as ``uv``."""
    if len(meaning.phases) == 2:
        return {"uv", "vw", "wu"} <= company
    return {f"{word[0]}{phase}" for phase in "uvw"} <= company


def _trouble(members: list[tuple[Channel, _Meaning]], everything: set[str]) -> str:
    """Return why the candidates of one group cannot be assigned, or an empty string."""
    meanings = [meaning for _, meaning in members]
    phases = [meaning.phases for meaning in meanings]
    if len(set(phases)) < len(phases):
        return "more than one channel suggests the same phase (two feeders?)"
    if len({meaning.system for meaning in meanings}) > 1:
        return "two ways of naming phases are mixed"
    if Role.UNASSIGNED in {meaning.role for meaning in meanings}:
        return "a line voltage is written against the sequence (give it a minus, as in -v_ca)"
    numbered = meanings[0].system == "123"
    if numbered and "c" not in "".join(phases) and everything & COMPONENTS:
        return "the names may be symmetrical components"
    return ""


def _group_of(role: Role) -> str:
    """Return the group of a role that is already assigned."""
    if role.value.startswith("i_"):
        return "currents"
    return "line voltages" if len(role.value) == len("v_ab") else "phase voltages"
