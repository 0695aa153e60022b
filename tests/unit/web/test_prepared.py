"""What is made once: one makes it and all get it, within the memory that is given."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from functools import partial
from threading import Barrier, Event

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cagewise.web.prepared import Prepared


def test_requests_at_the_same_time_make_a_thing_once() -> None:
    prepared, made, begin = Prepared(), [], Barrier(8)
    slow = Event()

    def make() -> list[int]:
        made.append(1)
        slow.wait(0.2)
        return made

    def ask() -> list[int]:
        begin.wait()
        return prepared.get("picture", make, len)

    with ThreadPoolExecutor(8) as pool:
        found = [future.result() for future in [pool.submit(ask) for _ in range(8)]]

    assert made == [1]
    assert all(each is made for each in found)


def test_what_fails_fails_for_all_who_wait_and_is_tried_again() -> None:
    prepared, begin = Prepared(), Barrier(2)
    tries: list[int] = []

    def broken() -> str:
        tries.append(1)
        Event().wait(0.1)
        raise KeyError("gone")

    def ask() -> str:
        begin.wait()
        return prepared.get("picture", broken, len)

    with ThreadPoolExecutor(2) as pool:
        futures = [pool.submit(ask) for _ in range(2)]
        for future in futures:
            with pytest.raises(KeyError, match="gone"):
                future.result()

    assert prepared.get("picture", lambda: "there", len) == "there"
    assert prepared.nbytes == len("there")


@given(sizes=st.lists(st.tuples(st.integers(0, 12), st.integers(0, 40)), max_size=60))
def test_memory_is_never_exceeded(sizes: list[tuple[int, int]]) -> None:
    prepared, known = Prepared(100), dict[int, int]()
    for key, size in sizes:
        size_of_key = known.setdefault(key, size)
        assert prepared.get(key, partial(int, size_of_key), int) == size_of_key
        assert prepared.nbytes <= 100


def test_the_least_recently_used_goes_first() -> None:
    prepared, made = Prepared(20), list[str]()

    def make(name: str) -> str:
        made.append(name)
        return name

    def ask(name: str) -> str:
        return prepared.get(name, partial(make, name), lambda _: 10)

    for name in ("a", "b", "a", "c", "a", "b"):
        ask(name)

    assert made == ["a", "b", "c", "b"]


def test_a_thing_larger_than_the_memory_is_given_and_not_kept() -> None:
    prepared = Prepared(10)

    assert prepared.get("large", lambda: "x" * 50, len) == "x" * 50
    assert prepared.nbytes == 0
