"""A motor known by its nameplate, simulated: it must meet the nameplate, whatever is made up."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from cagewise.errors import InputError, SimulationError
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.motor import Cage, DriveTrain, Motor
from cagewise.machine.nameplate import Nameplate
from cagewise.machine.nameplate_draws import middle_machine
from cagewise.measurement import Role
from cagewise.readers import read_recording, write_recording
from cagewise.simulation import Sensors, Supply
from cagewise.simulation.machine.design import CageShape, machine_for_circuit
from cagewise.simulation.machine.geometry import stator_gap_inductance_h
from cagewise.simulation.machine.two_axis import TwoAxisMachine, two_axis_machine
from cagewise.simulation.nameplate import machine_for_motor, shape_for
from cagewise.workflows.simulate import SimulateOptions, simulate, simulate_motor


def _motor(
    power_w: float,
    voltage_v: float,
    frequency_hz: float,
    rated: tuple[float, float],
    poles: int,
    cage: Cage | None = None,
) -> Motor:
    """Return a motor; ``rated`` are speed in rpm and current in A."""
    plate = Nameplate(
        rated_power_w=power_w,
        rated_voltage_v=voltage_v,
        rated_frequency_hz=frequency_hz,
        rated_speed_rpm=rated[0],
        rated_current_a=rated[1],
        poles=poles,
    )
    return Motor(tag="X-1", nameplate=plate, cage=cage or Cage())


MOTORS = {
    "3 kW": _motor(3e3, 380.0, 50.0, (1420.0, 6.7), 4, Cage(rotor_bars=32, stator_slots=36)),
    "7.5 kW, six poles": _motor(7.5e3, 400.0, 50.0, (965.0, 16.5), 6),
    "18.5 kW": _motor(18.5e3, 400.0, 50.0, (1462.5, 32.85), 4),
    "110 kW, eight poles": _motor(110e3, 400.0, 50.0, (738.0, 215.0), 8),
    "315 kW": _motor(315e3, 690.0, 50.0, (1484.0, 310.0), 4, Cage(construction="fabricated")),
    "500 hp": _motor(373e3, 2300.0, 60.0, (1773.0, 107.0), 4, Cage(rotor_bars=47)),
    "1 MW, two poles": _motor(1e6, 6000.0, 50.0, (2980.0, 112.0), 2),
}


def _full_load(motor: Motor) -> SimulateOptions:
    """Return rated load on a stiff supply, ideal sensors."""
    plate = motor.nameplate
    return SimulateOptions(
        supply=Supply(
            line_voltage_rms_v=plate.rated_voltage_v, frequency_hz=plate.rated_frequency_hz
        ),
        sensors=Sensors(),
        torque_noise=0.0,
        duration_s=0.5,
        load_fraction=1.0,
    )


@pytest.mark.parametrize("name", MOTORS)
def test_rated_point_meets_the_nameplate(name: str) -> None:
    """Slip 1.5 % (a few tenths of a rpm), current 2.5 %.

    The simulation has no core loss, so the current lacks its active part, 0.5 to 2 %; and the cage
    answers harmonics that the circuit does not know.
    """
    motor = MOTORS[name]
    plate = motor.nameplate
    truth = simulate_motor(motor, _full_load(motor)).truth
    assert truth["slip"] == pytest.approx(plate.rated_slip, rel=0.015)
    assert truth["current_rms_a"] == pytest.approx(plate.rated_current_a, rel=0.025)
    friction = float(middle_machine(plate).mechanical_loss_w)
    assert truth["shaft_power_w"] == pytest.approx(plate.rated_power_w + friction, rel=2e-3)
    assert truth["load_fraction"] == 1.0


@pytest.mark.parametrize("name", MOTORS)
def test_dimensions_are_those_of_a_motor(name: str) -> None:
    """Made up, but no nonsense: gap 0.2 to 8 mm (Carter and iron double the large ones), tens of
    turns, a ring segment of far less resistance than a bar."""
    machine = machine_for_motor(MOTORS[name], 5000.0).geometry
    assert 0.2e-3 < machine.gap_m < 8e-3
    assert machine.series_turns >= 10
    assert 0.02 < machine.radius_m < 0.5
    assert machine.ring_resistance_ohm < 0.1 * machine.bar_resistance_ohm


def test_stated_bars_and_slots_are_kept() -> None:
    shape = shape_for(MOTORS["3 kW"])
    assert (shape.rotor_bars, shape.slots_per_pole_and_phase) == (32, 3)
    assert shape_for(MOTORS["500 hp"]).rotor_bars == 47
    assert shape_for(MOTORS["315 kW"]).skew_stator_slots == 0.0
    even = shape_for(MOTORS["18.5 kW"])
    assert even.rotor_bars % 4 == 0


def test_orders_follow_the_sampling_rate() -> None:
    """32 bars, two pole pairs: slot lines need order 17, at 850 Hz: not at 1 kHz."""
    assert 17 in machine_for_motor(MOTORS["3 kW"], 5000.0).geometry.orders
    assert machine_for_motor(MOTORS["3 kW"], 1000.0).geometry.orders == (1, 5, 7)


def test_stated_inertia_is_taken() -> None:
    train = DriveTrain(load_inertia_kg_m2=3.0, rotor_inertia_kg_m2=5.0)
    motor = Motor(tag="X", nameplate=MOTORS["315 kW"].nameplate, drive_train=train)
    assert machine_for_motor(motor, 5000.0).geometry.inertia_kg_m2 == 8.0


def test_a_given_circuit_is_met_exactly() -> None:
    """The fundamental wave sees the circuit: input impedance at any slip to 1e-12."""
    w = 100.0 * math.pi
    given = TwoAxisMachine(
        stator_resistance_ohm=2.2,
        rotor_resistance_ohm=1.6555,
        stator_inductance_h=0.17832,
        rotor_inductance_h=0.17958,
        magnetizing_inductance_h=0.17140,
    )
    geometry = machine_for_circuit(
        given, CageShape(rotor_bars=28), pole_pairs=2, rated_torque_nm=20.0, flux_vs=1.0,
        inertia_kg_m2=0.01,
    )  # fmt: skip
    made = two_axis_machine(geometry)
    for slip in (0.01, 0.04, 0.3, 1.0):
        seen, wanted = (
            m.stator_resistance_ohm
            + 1j * w * m.stator_inductance_h
            + (w * m.magnetizing_inductance_h) ** 2
            / complex(m.rotor_resistance_ohm / slip, w * m.rotor_inductance_h)
            for m in (made, given)
        )
        assert seen == pytest.approx(wanted, rel=1e-12)
    assert geometry.stator_leakage_h > 0.0
    assert stator_gap_inductance_h(geometry) < 0.2


def test_the_circuit_of_the_motor_file_is_used() -> None:
    plate = MOTORS["3 kW"].nameplate
    circuit = EquivalentCircuit.from_values(
        stator_resistance_ohm=2.2,
        rotor_resistance_ohm=1.6555,
        stator_leakage_h=0.00692,
        rotor_leakage_h=0.00818,
        magnetizing_inductance_h=0.17140,
    )
    motor = Motor(tag="X", nameplate=plate, circuit=circuit)
    made = two_axis_machine(machine_for_motor(motor, 5000.0).geometry)
    ratio = made.magnetizing_inductance_h / 0.17140
    assert made.rotor_resistance_ohm == pytest.approx(1.6555 * ratio**2, rel=1e-9)
    assert made.stator_inductance_h == pytest.approx(0.17832, rel=1e-9)


def test_a_broken_bar_is_recorded_with_its_truth(tmp_path: Path) -> None:
    """As the command does it: options in, a file out, and the file holds what was simulated."""
    options = SimulateOptions(
        open_bars=(4,), resistance_factors={9: 3.0}, load_fraction=0.8, duration_s=2.0,
        sampling_rate_hz=2500.0, seed=5,
    )  # fmt: skip
    recording = simulate_motor(MOTORS["315 kW"], options)
    assert recording.truth["open_bars"] == 1.0
    assert recording.truth["largest_resistance_factor"] == 3.0
    assert recording.duration_s == 2.0
    write_recording(recording, tmp_path / "made.parquet")
    read = read_recording(tmp_path / "made.parquet")
    for role in (Role.CURRENT_A, Role.VOLTAGE_AB):
        before, after = recording.find(role), read.find(role)
        assert before is not None
        assert after is not None
        assert after.samples == pytest.approx(before.samples, abs=1e-6)
    again = simulate_motor(MOTORS["315 kW"], options)
    assert np.array_equal(again.channels[0].raw, recording.channels[0].raw)


def test_motor_file_in() -> None:
    folder = Path(__file__).parents[2] / "src" / "cagewise" / "workflows" / "demo_data"
    options = SimulateOptions(duration_s=0.5, sampling_rate_hz=2500.0)
    truth = simulate(folder / "motor.toml", options).truth
    assert truth["rotor_bars"] == 40.0
    assert truth["load_fraction"] == 0.75


@pytest.mark.parametrize(
    ("cage", "options", "message"),
    [
        (Cage(rotor_bars=4), SimulateOptions(), "4 bars are too few for 4 poles"),
        (Cage(rotor_bars=7), SimulateOptions(), "more leakage than the whole motor"),
        (Cage(rotor_bars=32), SimulateOptions(open_bars=(32,)), "between 0 and 31"),
        (Cage(), SimulateOptions(resistance_factors={0: -1.0}), "must be positive"),
        (Cage(), SimulateOptions(load_fraction=-0.1), "the load is a fraction of rated torque"),
        (Cage(), SimulateOptions(duration_s=0.0, sampling_rate_hz=0.0), "duration_s.*sampling"),
        (Cage(), SimulateOptions(torque_noise=-1.0), "torque_noise"),
    ],
)
def test_impossible_requests_say_what_is_wrong(
    cage: Cage, options: SimulateOptions, message: str
) -> None:
    plate = MOTORS["3 kW"].nameplate
    with pytest.raises(InputError, match=message):
        simulate_motor(Motor(tag="X", nameplate=plate, cage=cage), options)


def test_a_load_beyond_breakdown_is_refused() -> None:
    with pytest.raises(SimulationError, match="cannot carry the load"):
        simulate_motor(MOTORS["18.5 kW"], SimulateOptions(load_fraction=6.0, duration_s=1.0))
