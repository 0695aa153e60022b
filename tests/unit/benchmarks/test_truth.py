"""The population study: its design, its checks, its tables. The motors themselves run in CI."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from cagewise.evidence.fusion.posterior import Rate
from cagewise.indicators.reading import IndependenceClass
from cagewise.simulation import reference_motor_r3k
from truth import table
from truth.checks import Line, broken_rules
from truth.equivalent import behind_bar, lost_part, open_bars
from truth.plates import PLATES
from truth.population import BLOCK, LOG_RANGES, RANGES, SCENARIOS, SOUND, scene
from truth.run import append, written
from truth.targets import Target

ONE_BLOCK = [scene(number) for number in range(0, 2 * BLOCK, 2)]
OTHER = [scene(number) for number in range(1, 2 * BLOCK, 2)]


def test_a_block_holds_every_scenario_as_often_as_stated_and_half_is_sound() -> None:
    assert Counter(s.scenario for s in ONE_BLOCK) == dict(SCENARIOS)
    assert 2 * sum(s.is_sound for s in ONE_BLOCK) == BLOCK
    assert {s.scenario for s in ONE_BLOCK if s.is_sound} == set(SOUND)


def test_a_number_says_everything() -> None:
    assert scene(77) == scene(77)
    assert scene(77) != scene(79)


def test_the_halves_share_no_motor_and_no_slab_of_any_range() -> None:
    assert not set(PLATES[0]) & set(PLATES[1])
    for name, (low, high, slabs) in RANGES.items():
        if name in {"beside", "modulation", "oscillation", "duct_wave", "fault_size", "flicker"}:
            continue  # zero in scenes that do not use them, or larger in one scenario
        for half, scenes in enumerate((ONE_BLOCK, OTHER)):
            places = [(getattr(s, name) - low) / (high - low) * slabs for s in scenes]
            assert {int(place) % 2 for place in places} == {half}
            assert len({int(place) for place in places}) == len(range(half, slabs, 2))


def test_an_oscillation_is_exactly_at_the_pole_pass_unless_it_is_beside_it() -> None:
    for one in (*ONE_BLOCK, *OTHER):
        beside = one.scenario == "oscillation near"
        assert (one.oscillation_at != 1.0) == beside
        assert bool(one.oscillation) == ("oscillation" in one.scenario)


def test_motors_of_every_number_of_poles_lie_in_both_halves() -> None:
    for half in PLATES:
        assert {plate.poles for plate in half.values()} == {2, 4, 6, 8}
    powers = [plate.power_w for half in PLATES for plate in half.values()]
    assert (min(powers), max(powers)) == (3e3, 2e6)
    assert len(LOG_RANGES) == 2


@pytest.mark.parametrize(("factor", "bars"), [(1.5, 0.30), (2.0, 0.46), (5.0, 0.78)])
def test_a_cracked_bar_counts_what_it_loses_with_the_cage_behind_it(
    factor: float, bars: float
) -> None:
    # the 3 kW reference motor at full load, computed bar by bar in the time domain
    behind = behind_bar(reference_motor_r3k(), 0.033 * 50.0)
    assert lost_part(factor, behind) == pytest.approx(bars, abs=0.008)


def test_a_bar_of_doubled_resistance_is_nearly_half_an_open_bar() -> None:
    # give or take the phasor sum of the unevenness
    for one in [s for s in ONE_BLOCK if s.scenario == "crack x2"]:
        spread = one.uneven * one.plate.bars**0.5
        assert abs(open_bars(one) - 0.47) < 0.03 + 4.0 * spread


def test_bars_ninety_degrees_apart_cancel_but_for_the_rounding_of_their_place() -> None:
    for one in [s for s in (*ONE_BLOCK, *OTHER) if s.scenario == "apart"]:
        first, second = one.open_bars
        off = abs((second - first) / one.plate.bars * one.poles / 2 - 0.25)  # turns, electrical
        assert open_bars(one) < 4.0 * 3.2 * off + 4.0 * one.uneven * one.plate.bars**0.5
        assert one.hypothesis == "apart"


def test_a_cut_line_is_left_out_and_the_scene_is_done_again(tmp_path: Path) -> None:
    path = tmp_path / "out.jsonl"
    append(path, '{"case": {"number": 3}}\n{"case": {"num')
    assert [one["case"]["number"] for one in written(path)] == [3]
    assert not list(written(tmp_path / "not there yet.jsonl"))


@pytest.mark.parametrize(
    ("events", "cases", "least", "most", "said"),
    [
        (0, 5000, 0.0, 0.001, "met"),
        (0, 100, 0.0, 0.001, "too few to tell"),
        (9, 100, 0.0, 0.001, "not met"),
        (950, 1000, 0.93, 0.97, "met"),
        (999, 1000, 0.93, 0.97, "not met: too wide"),
        (800, 1000, 0.93, 0.97, "not met: too narrow"),
        (0, 0, 0.9, 1.0, "too few to tell"),
    ],
)
def test_a_target_is_met_only_if_the_whole_interval_says_so(
    events: int, cases: int, least: float, most: float, said: str
) -> None:
    found = Rate(events=events, cases=cases)
    target = Target(name="", count=lambda _: found, least=least, most=most)
    assert target.verdict(found) == said


def test_what_must_never_happen_is_not_met_by_one_event() -> None:
    target = Target(name="", count=lambda _: Rate(events=0, cases=0), most=0.001, never=True)
    assert target.verdict(Rate(events=1, cases=100_000)) == "not met"
    assert target.verdict(Rate(events=0, cases=300)) == "too few to tell"
    assert target.verdict(Rate(events=0, cases=100_000)) == "met"


def _line(state: str, n_open: int, interval: list[float], defect: float = 0.5) -> dict[str, Any]:
    one = scene(next(n for n in range(99) if scene(n).scenario == "sound"))
    truth = {
        "hypothesis": "one" if n_open else "sound",
        "open_bars": float(n_open),
        "n_open": n_open,
        "load_fraction": 0.8,
        "slip": 0.01,
    }
    said = {
        "state": state,
        "ground": "",
        "damage_bars": None,
        "bound_bars": None,
        "posterior": {"probabilities": {"sound": 1.0 - defect}, "prevalence": 0.02},
    }
    reading = {
        "name": "direct_component",
        "independence_class": IndependenceClass.RUNNING_FUNDAMENTAL.value,
        "part": "rotor cage",
        "valid": True,
        "reason": "",
        "open_bar_equivalent": interval,
    }
    source = {
        "kind": "running",
        "readings": [reading],
        "stopped": "",
        "slip": [0.01, 0.009, 0.011],
        "load": None,
        "alone": said,
    }
    case = {**one.fields(), "channels": "V and I", "duration_s": 60.0, "rate_hz": 5000.0}
    head = {"case": case, "truth": truth, "version": "0"}
    return {**head, "sources": [source], "said": said}


def test_rules_break_on_the_opposite_of_the_truth_and_on_nothing_else() -> None:
    good = [
        _line("sound", 0, [0.0, 0.0, 0.1], 0.02),
        _line("defective", 1, [1.0, 0.8, 1.2], 0.98),
    ]
    number = good[0]["case"]["number"]
    assert not list(broken_rules(good, [number]))
    wrong = [_line("defective", 0, [0.0, 0.0, 0.1]), _line("sound", 1, [1.0, 0.8, 1.2])]
    assert len(list(broken_rules(wrong, [number]))) == 2
    missed = [_line("sound", 0, [0.5, 0.4, 0.6], 0.02), _line("defective", 1, [2.0, 1.8, 2.2])]
    assert any("intervals" in rule for rule in broken_rules(missed, [number]))
    assert any("no line" in rule for rule in broken_rules(good, [number, 12345]))
    doubtful = [_line("not decidable", 0, [0.0, 0.0, 0.1], 0.9)]
    assert any("probability" in rule for rule in broken_rules(doubtful, [number]))


def test_a_round_sound_rotor_is_not_even_called_suspect() -> None:
    line = _line("suspect", 0, [0.0, 0.0, 0.1], 0.02)
    number = line["case"]["number"]
    assert any("suspect" in rule for rule in broken_rules([line], [number]))
    ducts = {**line, "case": {**line["case"], "duct_wave": 0.1}}
    assert not list(broken_rules([ducts], [number]))


def test_the_tables_stand_between_their_marks() -> None:
    page = f"before\n{table.BEGIN}\nfrom last year\n{table.END}\nafter\n"
    made = table.written(page, "tables")
    assert "from last year" not in made
    assert made.startswith("before\n")
    assert made.endswith("after\n")
    assert table.written(made, "tables") == made


def test_targets_speak_of_long_loaded_faultless_records_with_voltages_at_any_rate() -> None:
    normal = _line("sound", 0, [0.0, 0.0, 0.1])
    assert Line(normal).normal
    changes = {"duration_s": 30.0, "fault": "offset", "channels": "currents"}
    for name, value in changes.items():
        assert not Line({**normal, "case": {**normal["case"], name: value}}).normal
    light = {**normal, "truth": {**normal["truth"], "load_fraction": 0.2}}
    assert not Line(light).normal
    slow = Line({**normal, "case": {**normal["case"], "rate_hz": 2500.0}})
    assert slow.normal
    assert not slow.fast
