"""The language in which is spoken: English is written in the wording, others are catalogues.

A catalogue is a folder ``catalogues/<code>`` of files that give, for each English template, the
same in its language, with the same places for values::

    "no more than {bound_bars} open bars" = "höchstens {bound_bars} offene Stäbe"

Its ``language.toml`` says how the language calls itself and writes decimals. Templates of wording
modules are filled by :func:`say`. What the layers below say of their findings (reasons, caveats,
titles) is kept in English with the results; :func:`retell` finds the template it was made from, in
the files ``below_*.toml``, and says it again. So does :func:`say` with a text that has no places.
Outside of :func:`speaking` everything is English, so that what does not ask for a language never
changes.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib import resources
from itertools import chain
from string import Formatter

from cagewise.errors import UsageError

ENGLISH = "en"
BELOW = "below_"
"""Begins the names of files with texts of the layers below."""
HEAD = "language.toml"
LEAST_LITERAL = 20
"""Letters beside its places from which on a sentence of the wording is recognised where it was kept
with a result: shorter ones would be seen in anything."""

LEAST_TELLING = 8
"""Letters beside its places below which a template fits nearly anything: it comes last."""


@dataclass(frozen=True, slots=True)
class Told:
    """A template of the layers below, and how a text that was made from it is recognised."""

    pattern: re.Pattern[str]
    template: str
    """In the language."""
    says: int
    """Letters of the English template beside its places."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Catalogue:
    """A language."""

    name: str
    """As it calls itself."""
    decimal_sign: str
    templates: Mapping[str, str]
    """By their English ones."""
    below: tuple[Told, ...]
    """Templates with places that the layers below fill, those that say most first."""


def files(code: str) -> Mapping[str, Mapping[str, str]]:
    """Return the files of a language by name, each with its entries.

    Raises
    ------
    UsageError
        If there is no such language.
    """
    if code not in languages() or code == ENGLISH:
        known = ", ".join(languages())
        raise UsageError(f"there is no language {code!r}", remedy=f"Use one of: {known}.")
    folder = resources.files("cagewise").joinpath("catalogues", code)
    found = sorted(folder.iterdir(), key=lambda each: each.name)
    return {
        each.name: tomllib.loads(each.read_text(encoding="utf-8"))
        for each in found
        if each.name.endswith(".toml")
    }


@cache
def catalogue(code: str) -> Catalogue:
    """Return a language; English has no templates but those of the wording.

    Raises
    ------
    UsageError
        If there is no such language.
    """
    if code == ENGLISH:
        return Catalogue(name="English", decimal_sign=".", templates={}, below=())
    written = dict(files(code))
    head = written.pop(HEAD)
    templates = {key: said for entries in written.values() for key, said in entries.items()}
    below = {
        english: said
        for name, entries in written.items()
        for english, said in entries.items()
        if places(english) and (name.startswith(BELOW) or _literal(english) >= LEAST_LITERAL)
    }
    return Catalogue(
        name=head["name"],
        decimal_sign=head["decimal_sign"],
        templates=templates,
        below=tuple(
            Told(_pattern(english), below[english], _literal(english))
            for english in sorted(below, key=_literal, reverse=True)
        ),
    )


@cache
def languages() -> tuple[str, ...]:
    """Return the codes of all languages, English first."""
    found = resources.files("cagewise").joinpath("catalogues").iterdir()
    return (ENGLISH, *sorted(each.name for each in found if each.is_dir()))


_code: ContextVar[str] = ContextVar("language", default=ENGLISH)
_missing: ContextVar[set[str] | None] = ContextVar("missing", default=None)
_own: ContextVar[set[str] | None] = ContextVar("own", default=None)


def current() -> str:
    """Return the code of the language of the moment."""
    return _code.get()


@contextmanager
def speaking(code: str) -> Iterator[set[str]]:
    """Speak a language; yield the set that gathers templates it has no words for.

    Raises
    ------
    UsageError
        If there is no such language.
    """
    catalogue(code)
    missing: set[str] = set()
    spoken, gathered, own = _code.set(code), _missing.set(missing), _own.set(set())
    try:
        yield missing
    finally:
        _code.reset(spoken)
        _missing.reset(gathered)
        _own.reset(own)


def say(template: str, **values: object) -> str:
    """Return a template in the language of the moment, with its places filled.

    A value that is a decimal number is written with the decimal sign of the language. A template
    that the language has no words for is said in English, and gathered by :func:`speaking`.
    """
    if _code.get() == ENGLISH or not template:
        return template.format(**values) if values else template
    if not values:
        return retell(template)
    said = catalogue(_code.get()).templates.get(template)
    if said is None:
        _lacks(template)
    filled = {name: decimal(v) if isinstance(v, str) else v for name, v in values.items()}
    return _remembered((template if said is None else said).format(**filled))


def say_each(templates: Iterable[str]) -> tuple[str, ...]:
    """Return templates without places in the language of the moment."""
    return tuple(say(template) for template in templates)


def retell(text: str) -> str:
    """Return a text of the layers below in the language of the moment.

    Values in it stay what they are: numbers get the decimal sign of the language, words that are a
    text of the layers below themselves are told again. What no template fits stays English, and is
    gathered by :func:`speaking`.
    """
    if _code.get() == ENGLISH or not text.strip():
        return text
    found = _found(_code.get(), text)
    if found is None:
        _lacks(text)
        return _remembered(decimal(text))
    for lacking in found[1]:
        _lacks(lacking)
    return _remembered(found[0])


def decimal(number: str) -> str:
    """Return a number as the language of the moment writes it; other text as it is."""
    return _signed(_code.get(), number)


def places(template: str) -> list[str]:
    """Return the places of a template, sorted, each as often as it stands there."""
    found = Formatter().parse(template)
    return sorted(name for _, name, _, _ in found if name is not None)


_NUMBER = re.compile(r"[<>\u2212+-]?\d+(\.\d+)?")
_PLACE = re.compile(r"\{\w*\}")
_WORD = re.compile(r"(?<![\w./\\-])[a-z]{3,}(?![\w./\\-])")
"""A word that stands alone: something is said, it is not the name of a file or of a channel."""
_JOINS = ("; ", ", ", ". ")
"""What the layers below put between texts, in the order in which they are taken apart."""


def _signed(code: str, number: str) -> str:
    """Return a number with the decimal sign of a language; other text as it is."""
    if code == ENGLISH or _NUMBER.fullmatch(number) is None:
        return number
    return number.replace(".", catalogue(code).decimal_sign)


def _lacks(template: str) -> None:
    """Gather a template that the language has no words for."""
    missing, own = _missing.get(), _own.get()
    says = _PLACE.sub("", template)
    if missing is not None and _WORD.search(says) and not (own and template in own):
        missing.add(template)


def _remembered(said: str) -> str:
    """Return what is said, and remember that it needs no words when it is said again."""
    own = _own.get()
    if own is not None:
        own.add(said)
    return said


@lru_cache(maxsize=4096)
def _found(code: str, text: str) -> tuple[str, frozenset[str]] | None:
    """Return a text of the layers below in a language, and what in it has no words.

    None if no template fits.
    """
    spoken = catalogue(code)
    known = spoken.templates.get(text)
    if known is not None:
        return known, frozenset()
    telling = (_fitted(code, told, text) for told in spoken.below if told.says >= LEAST_TELLING)
    parts = (_in_two(code, text, join) for join in _JOINS)
    others = (_fitted(code, told, text) for told in spoken.below if told.says < LEAST_TELLING)
    best = None
    for found in filter(None, chain(telling, parts, others)):
        if not found[1]:
            return found
        best = best or found
    return best


def _fitted(code: str, told: Told, text: str) -> tuple[str, frozenset[str]] | None:
    """Return a text that was made from a template, told again; None if it was not."""
    found = told.pattern.fullmatch(text)
    if found is None:
        return None
    filled = {name: _value(code, part) for name, part in found.groupdict().items()}
    said = told.template.format(**{name: value for name, (value, _) in filled.items()})
    return said, frozenset().union(*(lacking for _, lacking in filled.values()))


def _in_two(code: str, text: str, join: str) -> tuple[str, frozenset[str]] | None:
    """Return two texts in one, the first as long as can be; None if they are not known."""
    stop = join.rstrip() if join == ". " else ""
    at = text.rfind(join)
    while at > 0:
        first = _found(code, text[: at + len(stop)])
        rest = None if first is None else _found(code, text[at + len(join) :])
        if first is not None and rest is not None:
            return f"{first[0]}{join.removeprefix(stop)}{rest[0]}", first[1] | rest[1]
        at = text.rfind(join, 0, at)
    return None


def _value(code: str, part: str) -> tuple[str, frozenset[str]]:
    """Return what stood at a place, told again if it is a text itself, and what has no words."""
    found = _found(code, part)
    if found is not None:
        return found
    return _signed(code, part), frozenset({part} if _WORD.search(part) else ())


def _literal(template: str) -> int:
    """Return how much of a template is said whatever its places hold."""
    return sum(len(literal) for literal, _, _, _ in Formatter().parse(template))


def _pattern(template: str) -> re.Pattern[str]:
    """Return what recognises texts that were made from a template."""
    written, seen = "", set()
    for literal, name, _, _ in Formatter().parse(template):
        written += re.escape(literal)
        if name is not None:
            written += f"(?P={name})" if name in seen else f"(?P<{name}>.+?)"
            seen.add(name)
    return re.compile(written, re.DOTALL)
