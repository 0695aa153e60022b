"""Results as text and back: everything comes back, and nothing else can be made."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import UTC, date, datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from cagewise.decision.examination import CurrentTrend, Examination
from cagewise.decision.verdict import State
from cagewise.errors import InputError
from cagewise.quantities import Estimate, NotKnown
from cagewise.report.html import to_html
from cagewise.report.json_output import to_json
from cagewise.store.frozen import from_text, to_text
from cagewise.workflows import demo

PLAIN = (
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False)
    | st.text(max_size=20)
    | st.dates()
    | st.datetimes(timezones=st.just(UTC))
    | st.complex_numbers(allow_nan=False, allow_infinity=False)
    | st.sampled_from(State)
    | st.builds(Estimate, st.just(1.0), st.just(-0.0), st.floats(min_value=1.0, allow_nan=False))
    | st.builds(NotKnown, st.text(max_size=20))
)
KEYS = st.text(max_size=5) | st.integers() | st.sampled_from(State)
VALUES = st.recursive(
    PLAIN,
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.lists(inner, max_size=4).map(tuple)
        | st.dictionaries(KEYS, inner, max_size=4)
    ),
    max_leaves=20,
)


@given(value=VALUES)
def test_every_value_comes_back_equal_and_of_its_kind(value: object) -> None:
    back = from_text(to_text(value), object)
    assert back == value
    assert type(back) is type(value)
    assert to_text(back) == to_text(value)


@given(
    array=hnp.arrays(
        dtype=hnp.floating_dtypes() | hnp.integer_dtypes() | hnp.complex_number_dtypes(),
        shape=hnp.array_shapes(min_dims=0, max_dims=3, min_side=0),
    )
)
def test_arrays_come_back_bit_by_bit(array: np.ndarray) -> None:
    back = from_text(to_text(array), np.ndarray)
    native = array.astype(array.dtype.newbyteorder("="))
    assert back.dtype == native.dtype
    assert back.shape == native.shape
    assert back.tobytes() == native.tobytes()


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf")])
def test_what_json_has_no_number_for_comes_back(value: float) -> None:
    assert repr(from_text(to_text(value), float)) == repr(value)


@pytest.mark.parametrize("case", demo.cases(), ids=lambda case: case.truth.name)
def test_whole_examinations_say_the_same_afterwards(case: demo.DemoCase) -> None:
    ((_, examination),) = demo.run((case,))
    text = to_text(examination)
    back = from_text(text, Examination)
    assert to_json(back) == to_json(examination)
    assert to_html(back) == to_html(examination)
    assert to_text(back) == text


TREND = to_text(CurrentTrend(time_s=np.zeros(2), line_current_rms_a=np.ones(2)))


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{}",
        "[]",
        '["nothing"]',
        '["data","cagewise.quantities:Estimate",{"value":1.0}]',
        '["data","cagewise.quantities:Estimate",{"value":1,"low":0,"high":2,"more":3}]',
        '["data","os:system",{}]',
        '["data","cagewise.quantities:np.ndarray",{}]',
        '["data","cagewise.store.frozen:Path",{}]',
        '["data","cagewise.nothing:Estimate",{}]',
        '["data","cagewise.quantities:__name__",{}]',
        '["data","cagewise.decision.verdict:State",{}]',
        '["enum","cagewise.quantities:Estimate","value"]',
        '["enum","cagewise.decision.verdict:State","__class__"]',
        '["enum","builtins:int","real"]',
        '["array","|O",[1],"AAAAAAAAAAA="]',
        '["array","<f8",[3],"AAAAAAAAAAA="]',
        '["array","<f8",[1],"no base64"]',
        "[" * 500 + "]" * 500,
        '["tuple",[' * 300 + "1" + "]]" * 300,
        TREND.replace("time_s", "time"),
    ],
)
def test_text_of_anything_else_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        from_text(text, object)


def test_another_kind_than_asked_for_is_refused() -> None:
    with pytest.raises(InputError, match="a CurrentTrend, not a Estimate"):
        from_text(TREND, Estimate)


@dataclass(frozen=True)
class _Foreign:
    value: int = 1


@pytest.mark.parametrize("value", [_Foreign(), object(), np.array([object()]), {1: object()}])
def test_what_is_not_ours_is_not_written(value: object) -> None:
    with pytest.raises(TypeError):
        to_text(value)


def test_the_text_is_plain_json() -> None:
    said = {"day": date(2031, 5, 17), "at": datetime(2031, 5, 17, 9, 30, tzinfo=UTC)}
    assert json.loads(to_text(said)) == [
        "map",
        [["day", ["day", "2031-05-17"]], ["at", ["instant", "2031-05-17T09:30:00+00:00"]]],
    ]
