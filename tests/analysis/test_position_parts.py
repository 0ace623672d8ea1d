"""Working point, rest position, thrust pair and the two channels of one probe."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.model.results import ProbeRevolutions, RevolutionTable
from analysis.model.setup import Probe
from analysis.protection.two_readings import position_marks, two_readings
from analysis.rotor.rest_position import rest_position
from analysis.rotor.thrust import thrust_at, thrust_pair, thrust_probes
from analysis.rotor.working_point import working_point
from tests.analysis.position_captures import setup_with

CURVE = ((250.0, -2.0), (1250.0, -10.0), (2000.0, -16.0), (2250.0, -17.0), (2500.0, -17.5))
"""8 mV/µm up to 2000 µm, 4 mV/µm to 2250 µm, 2 mV/µm beyond."""
CURVED = Probe(name="X", angle_deg=45.0, scale_factor_mv_per_um=8.0, calibration=CURVE)
STRAIGHT = Probe(
    name="X", angle_deg=45.0, scale_factor_mv_per_um=7.874, linear_range_um=(250.0, 2280.0)
)


class TestWorkingPoint:
    @pytest.mark.parametrize(
        ("mean", "local", "swept", "effect"),
        [
            (1250.0, 8.0, 8.0, 0.0),
            (2100.0, 4.0, 4.0, -50.0),
            (2000.0, 4.0, 6.0, -25.0),  # half the swing on either side of a bend
            (2400.0, 2.0, 2.0, -75.0),
            (2600.0, 2.0, 2.0, -75.0),  # beyond the table its last slope goes on
        ],
    )
    def test_slope_against_the_average(
        self, mean: float, local: float, swept: float, effect: float
    ) -> None:
        point = working_point(mean, mean - 50.0, mean + 50.0, CURVED)
        assert point.local_mv_per_um == pytest.approx(local)
        assert point.swept_mv_per_um == pytest.approx(swept)
        assert point.average_mv_per_um == pytest.approx(8.0)
        assert point.effect_percent == pytest.approx(effect)
        # 100 µm that a straight line of 8 mV/µm reads from those volts.
        assert point.straight_um == pytest.approx(100.0 * swept / 8.0)
        assert point.from_table

    def test_the_voltage_at_the_mean(self) -> None:
        assert working_point(2125.0, 2100.0, 2150.0, CURVED).gap_v == pytest.approx(-16.5)

    def test_a_table_alone_has_its_own_average(self) -> None:
        alone = Probe(name="X", angle_deg=45.0, calibration=CURVE)
        point = working_point(1000.0, 990.0, 1010.0, alone)
        average = 1000.0 * 15.5 / 2250.0
        assert point.average_mv_per_um == pytest.approx(average)
        assert point.effect_percent == pytest.approx(100.0 * (8.0 / average - 1.0))

    def test_a_straight_line_has_no_effect(self) -> None:
        point = working_point(2400.0, 2350.0, 2450.0, STRAIGHT)
        assert (point.effect_percent, point.from_table) == (pytest.approx(0.0), False)
        assert point.curve_um.tolist() == [250.0, 2280.0]

    def test_a_shaft_that_stands_still_has_the_local_slope(self) -> None:
        point = working_point(2100.0, 2100.0, 2100.0, CURVED)
        assert point.swept_mv_per_um == pytest.approx(4.0)


def table_of_gaps(speed: np.ndarray, **gaps: np.ndarray) -> RevolutionTable:
    rows = len(speed)
    time = np.arange(rows + 1, dtype=float)
    probes = {
        name.replace("_", "-"): ProbeRevolutions(
            gap, gap, gap - 1.0, gap + 1.0, {}, np.full(rows, 9), np.isnan(gap)
        )
        for name, gap in gaps.items()
    }
    return RevolutionTable("events", time[:-1], time[1:], speed, np.zeros(rows, dtype=bool), probes)


class TestRest:
    SPEED = np.concatenate([np.linspace(3000.0, 300.0, 60), np.full(10, 290.0)])

    def probes(self, *rest: float | None) -> tuple[Probe, Probe]:
        first, second = (
            STRAIGHT.model_copy(update={"name": n, "rest_gap_um": r})
            for n, r in zip("XY", rest, strict=True)
        )
        return first, second

    def table(self, speed: np.ndarray) -> RevolutionTable:
        return table_of_gaps(speed, X=1300.0 - speed / 50.0, Y=1200.0 + speed / 100.0)

    def test_from_the_setup(self) -> None:
        rest = rest_position(self.table(self.SPEED), self.probes(1310.0, 1285.0))
        assert rest is not None
        assert (rest.gaps_um, rest.assumed) == ((1310.0, 1285.0), False)

    @pytest.mark.parametrize("given", [(None, None), (1310.0, None)])
    def test_from_the_slowest_turns_is_an_assumption(
        self, given: tuple[float | None, float | None]
    ) -> None:
        rest = rest_position(self.table(self.SPEED), self.probes(*given))
        assert rest is not None
        assert rest.assumed
        assert rest.speed_rpm == pytest.approx(290.0)
        assert rest.gaps_um == pytest.approx((1300.0 - 5.8, 1202.9))

    def test_no_slow_turns_no_rest(self) -> None:
        steady = np.full(50, 3000.0)
        assert rest_position(self.table(steady), self.probes(None, None)) is None
        blocks = np.full(50, np.nan)
        assert rest_position(self.table(blocks), self.probes(None, None)) is None


AXIAL = {"kind": "axial", "angle_deg": None}


def thrust_setup(rest: tuple[float | None, float | None] = (1260.0, 1275.0)):
    probes = [{"name": n, **AXIAL} for n in ("THR-A", "THR-B")]
    for probe, gap in zip(probes, rest, strict=True):
        if gap is not None:
            probe["rest_gap_um"] = gap
    trip = {"probes": ["THR-A", "THR-B"], "measure": "position", "level": "trip"}
    return setup_with(*probes, limit=[{**trip, "above": 1660.0, "below": 860.0, "votes": 2}])


class TestThrust:
    SPEED = np.full(101, 3000.0)
    WAY = 100.0 * np.sin(np.linspace(0.0, 2.0 * np.pi, 101))  # towards the probes

    def pair(self, second: np.ndarray, setup=None):
        setup = setup or thrust_setup()
        table = table_of_gaps(self.SPEED, THR_A=1260.0 - self.WAY, THR_B=second)
        (probes,) = thrust_probes(setup, frozenset(table.probes))
        return table, thrust_pair(table, probes, setup)

    def test_position_float_and_agreement(self) -> None:
        table, pair = self.pair(1275.0 - self.WAY + 4.0)
        assert pair.position_um[0] == pytest.approx(self.WAY)
        assert pair.travel_um == pytest.approx((-102.0, 98.0))
        assert pair.difference_um == pytest.approx(4.0)
        assert pair.agree
        assert (pair.facing, pair.facing_found, pair.from_rest) == ("same", True, True)
        # Trips at gaps of 860 and 1660 µm, counted from rest at 1260 µm towards the probes.
        assert pair.window_um == (pytest.approx(-400.0), pytest.approx(400.0))
        at = thrust_at(pair, table, slice(25, 26), 3.0)
        assert at.moment_um == (pytest.approx(100.0), pytest.approx(96.0))
        assert not at.agree

    def test_one_that_strays(self) -> None:
        stray = 1275.0 - self.WAY
        stray[80] += 60.0
        _, pair = self.pair(stray)
        assert pair.difference_um == pytest.approx(60.0)
        assert pair.difference_at_s == 80.5
        assert not pair.agree

    def test_probes_that_look_at_each_other(self) -> None:
        _, pair = self.pair(1275.0 + self.WAY)
        assert (pair.facing, pair.facing_found) == ("opposite", True)
        assert pair.difference_um == pytest.approx(0.0, abs=1e-9)
        assert pair.travel_um == pytest.approx((-100.0, 100.0))

    def test_where_nothing_moves_the_same_way_is_taken_for_granted(self) -> None:
        table = table_of_gaps(self.SPEED, THR_A=1200.0 + 0 * self.WAY, THR_B=1215.0 + 0 * self.WAY)
        setup = thrust_setup()
        (probes,) = thrust_probes(setup, frozenset(table.probes))
        pair = thrust_pair(table, probes, setup)
        assert (pair.facing, pair.facing_found) == ("same", False)
        assert pair.position_um[0] == pytest.approx(np.full(101, 60.0))

    def test_without_rest_gaps_positions_count_from_the_mean(self) -> None:
        _, pair = self.pair(1275.0 - self.WAY, thrust_setup((None, None)))
        assert not pair.from_rest
        assert float(np.mean(pair.position_um[0])) == pytest.approx(0.0, abs=1e-9)

    def test_void_turns_do_not_count(self) -> None:
        second = 1275.0 - self.WAY
        second[:30] = np.nan
        table, pair = self.pair(second)
        assert pair.difference_um == pytest.approx(0.0, abs=1e-9)
        assert thrust_at(pair, table, slice(0, 9), 50.0).moment_um[1] is None


class TestTwoReadings:
    SETUP = setup_with(
        {"name": "X"},
        output=[
            {"probe": "X", "measure": "position", "range_um": [250.0, 2250.0]},
            {"probe": "X", "measure": "peak_to_peak", "range_um": [0.0, 200.0]},
        ],
        limit=[
            {"probes": ["X"], "measure": "peak_to_peak", "level": "alarm", "above": 95.0},
            {"probes": ["X"], "measure": "peak_to_peak", "level": "trip", "above": 240.0},
            {"probes": ["X"], "measure": "position", "level": "alarm", "above": 1800, "below": 700},
        ],
    )

    def test_one_signal_two_channels(self) -> None:
        position, vibration = two_readings(
            self.SETUP.probe[0], self.SETUP, 1250.0, 50.0, fault=False
        )
        assert (position.current_ma, position.volts) == (12.0, 3.0)
        assert (vibration.current_ma, vibration.volts) == (8.0, 2.0)
        assert (position.percent, vibration.percent) == (50.0, 25.0)
        assert [(x.level, x.value_um, x.on_scale) for x in vibration.limits] == [
            ("alarm", 95.0, True),
            ("trip", 240.0, False),  # beyond 20 mA: no reader of the loop can see it
        ]
        assert [(x.side, x.value_um) for x in position.limits] == [("above", 1800), ("below", 700)]
        assert [m.gap_um for m in position_marks(self.SETUP.probe[0], self.SETUP)] == [700, 1800]

    def test_ranges_that_the_setup_does_not_give_say_where_they_come_from(self) -> None:
        setup = setup_with({"name": "X"})
        position, vibration = two_readings(setup.probe[0], setup, 1265.0, 62.5, fault=False)
        assert position.range_um == (250.0, 2280.0)
        assert "linear range" in position.range_from
        assert vibration.range_um == (0.0, 125.0)
        assert "from memory" in vibration.range_from
        assert (position.current_ma, vibration.current_ma) == (12.0, 12.0)

    def test_without_any_range_there_is_no_current(self) -> None:
        setup = setup_with({"name": "X", "linear_range_um": None})
        position, _ = two_readings(setup.probe[0], setup, 1265.0, None, fault=False)
        assert (position.current_ma, position.volts, position.percent) == (None, None, None)
