"""Guidance: each check says what it should on cases made for it, and judges nothing it cannot."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from analysis.model.advice import Advice
from analysis.model.replay_results import MonitoredProbe, MonitorSeries
from analysis.model.setup import Setup
from analysis.model.units import LengthUnit
from analysis.protection.baseline import baseline_of
from analysis.protection.guidance import advice
from analysis.protection.guidance_reach import _gap_within_clearance

X = {
    "name": "X",
    "angle_deg": 45.0,
    "scale_factor_mv_per_um": 7.874,
    "linear_range_um": [250.0, 2280.0],
    "rest_gap_um": 1300.0,
    "fault_v": [-22.0, -0.5],
}
Y = X | {"name": "Y", "angle_deg": -45.0}
AXIAL = [X | {"name": name, "kind": "axial"} for name in ("A", "B")]
PLANE = {"name": "P", "probes": ["X", "Y"], "clearance_um": 240.0}
ALARM = {
    "probes": ["X"],
    "measure": "peak_to_peak",
    "level": "alarm",
    "above": 90.0,
    "delay_s": 1.0,
}
TRIP = ALARM | {"level": "trip", "above": 160.0, "latching": True}


def setup_of(*limits: dict, probes: list | None = None, **more: object) -> Setup:
    tables = {
        "machine": {"operating_rpm": [3500.0, 3700.0]},
        "probe": probes or [X, Y],
        "limit": list(limits),
    }
    return Setup.model_validate(tables | more)


def series_of(
    seconds: float = 30.0,
    *,
    rpm: float = 3600.0,
    p_p: float = 40.0,
    gap: float = 1250.0,
    names: tuple[str, ...] = ("X", "Y"),
) -> MonitorSeries:
    """A ramp up from standstill, a steady part, and a ramp down; p-p doubles in the ramps."""
    ramp = np.linspace(0.0, rpm, 200)
    speed = np.concatenate([ramp, np.full(round(10 * seconds), rpm), ramp[::-1]])
    vibration = np.where(speed == rpm, p_p, 2.0 * p_p)
    rows = len(speed)
    probe = MonitoredProbe(
        vibration, np.full(rows, gap), vibration.astype(complex), np.zeros(rows, dtype=bool)
    )
    return MonitorSeries(np.arange(rows) / 10.0, speed, dict.fromkeys(names, probe), True)


def one(
    topic: str, setup: Setup, series: MonitorSeries | None = None, index: int = 0, **more: object
) -> Advice:
    found = [each for each in advice(setup, series, index, **more) if each.topic == topic]
    assert len(found) == 1, [each.sentence for each in found]
    return found[0]


def test_every_piece_has_a_source_and_says_how_sure() -> None:
    setup = setup_of(ALARM, TRIP, plane=[PLANE])
    for index in (0, 1):
        for series in (None, series_of()):
            for each in advice(setup, series, index):
                assert each.source.text
                assert each.source.how_sure
                assert each.sentence.endswith(".")
                for standard in ("ISO ", "API "):
                    if standard in each.source.text:
                        assert "from memory" in each.source.how_sure


class TestBaseline:
    def test_it_is_the_steady_part_at_operating_speed(self) -> None:
        found = baseline_of(series_of(), (3500.0, 3700.0))
        assert found is not None
        assert found.peak_to_peak["X"].mean_um == pytest.approx(40.0)
        assert found.speed_rpm == pytest.approx(3600.0)
        assert 20.0 <= found.start_s < found.end_s <= 50.0
        assert not found.assumed
        assert "r/min" in found.where

    def test_ramps_are_not_steady(self) -> None:
        """At the same speeds, but never steady: the way through is no baseline."""
        assert baseline_of(series_of(0.5), (1000.0, 3700.0)) is None

    def test_another_speed_is_not_the_operating_one(self) -> None:
        assert baseline_of(series_of(rpm=3000.0), (3500.0, 3700.0)) is None

    def test_without_an_operating_speed_the_fastest_steady_part(self) -> None:
        found = baseline_of(series_of(), None)
        assert found is not None
        assert found.assumed
        assert "no operating speed" in found.where

    def test_without_speeds_there_is_none(self) -> None:
        series = series_of()
        blind = MonitorSeries(
            series.time_s, np.full(len(series), math.nan), series.probes, phase_known=False
        )
        assert baseline_of(blind, None) is None
        assert one("level", setup_of(ALARM), blind).finding == "unknown"

    def test_nothing_at_all(self) -> None:
        none = np.zeros(0)
        empty = MonitorSeries(none, none, {}, phase_known=False)
        assert baseline_of(empty, None) is None


class TestLevel:
    def test_without_a_capture_there_is_no_suggestion(self) -> None:
        found = one("level", setup_of(ALARM))
        assert found.finding == "unknown"
        assert found.suggested == ()

    @pytest.mark.parametrize(
        ("above", "finding", "told"),
        [
            (140.0, "look", "zone A or B"),
            (150.0, "look", "zone A or B"),
            (151.0, "in_order", "zone C"),
            (220.0, "in_order", "zone C"),
            (221.0, "in_order", "zone D"),
            (275.0, "in_order", "zone D"),
            (276.0, "against", "above that"),
        ],
    )
    def test_trip(self, above: float, finding: str, told: str) -> None:
        """At 3600 r/min: B/C 150, C/D 220, 1.25 × C/D 275 µm p-p."""
        found = one("level", setup_of(TRIP | {"above": above}), series_of())
        assert found.finding == finding
        assert told in found.sentence

    def test_the_owners_zones_come_first(self) -> None:
        zones = {"edition": "ours, 2025", "a_b": 2400.0, "b_c": 4500.0, "c_d": 6600.0}
        found = one("level", setup_of(ALARM, severity_zones=zones), series_of())
        assert found.suggested == pytest.approx((40.0 + 75.0 / 4.0,))
        assert "ours, 2025" in found.sentence

    def test_the_larger_baseline_of_two_probes(self) -> None:
        quiet, loud = series_of(), series_of(p_p=60.0)
        both = MonitorSeries(
            quiet.time_s,
            quiet.speed_rpm,
            {"X": quiet.probes["X"], "Y": loud.probes["Y"]},
            phase_known=True,
        )
        found = one("level", setup_of(ALARM | {"probes": ["X", "Y"]}), both)
        assert found.suggested == pytest.approx((60.0 + 37.5,))

    def test_an_unsteady_vibration_is_no_baseline(self) -> None:
        series = series_of()
        swing = 1.0 + 0.5 * np.sin(np.arange(len(series)) / 7.0)
        probe = series.probes["X"]
        growing = replace(probe, peak_to_peak_um=probe.peak_to_peak_um * swing)
        unsteady = replace(series, probes={"X": growing})
        found = one("level", setup_of(ALARM), unsteady)
        assert (found.finding, found.suggested) == ("look", ())
        assert "is not" in found.sentence

    def test_not_for_positions_or_1x(self) -> None:
        for measure in ("position", "1x"):
            setup = setup_of(ALARM | {"measure": measure, "above": 1500.0})
            topics = [each.topic for each in advice(setup, series_of(), 0)]
            assert "level" not in topics

    def test_mil(self) -> None:
        found = one("level", setup_of(ALARM), series_of(), unit=LengthUnit.MIL)
        assert "3.05 mil" in found.sentence  # 77.5 µm
        assert " µm" not in found.sentence
        assert found.suggested == pytest.approx((77.5,))


@pytest.mark.parametrize(
    ("limit", "finding"),
    [
        (ALARM, "in_order"),
        (ALARM | {"above": 40.0}, "against"),
        (ALARM | {"above": 39.0}, "against"),
        (ALARM | {"measure": "position", "above": 1240.0}, "against"),
        (ALARM | {"measure": "position", "above": 1600.0, "below": 1260.0}, "against"),
        (ALARM | {"measure": "position", "above": 1600.0, "below": 900.0}, "in_order"),
    ],
)
def test_alarm_below_what_is_normal(limit: dict, finding: str) -> None:
    assert one("normal", setup_of(limit), series_of()).finding == finding


class TestLinearRange:
    @pytest.mark.parametrize(
        ("gap", "above", "finding"),
        [
            # At 2200 µm there are 80 µm to the far end: 160 µm p-p can be read.
            (2200.0, 159.0, "in_order"),
            (2200.0, 161.0, "against"),
            (330.0, 159.0, "in_order"),
            (330.0, 161.0, "against"),
            (2300.0, 10.0, "against"),
        ],
    )
    def test_vibration(self, gap: float, above: float, finding: str) -> None:
        setup = setup_of(TRIP | {"above": above})
        assert one("linear_range", setup, series_of(gap=gap)).finding == finding

    def test_the_multiplier_reaches_further(self) -> None:
        multiplier = {"factor": 2.0, "rpm": [1000.0, 2000.0]}
        setup = setup_of(TRIP | {"above": 100.0, "multiplier": multiplier})
        assert one("linear_range", setup, series_of(gap=2200.0)).finding == "against"

    def test_from_the_rest_gap_without_a_capture(self) -> None:
        far = X | {"rest_gap_um": 2200.0}
        setup = setup_of(TRIP | {"above": 161.0}, probes=[far])
        found = one("linear_range", setup)
        assert found.finding == "against"
        assert "rest gap" in found.sentence

    @pytest.mark.parametrize(
        ("above", "finding"), [(2250.0, "in_order"), (2261.0, "against"), (2300.0, "against")]
    )
    def test_position_with_its_vibration(self, above: float, finding: str) -> None:
        """40 µm p-p beside it: 20 µm are to stay free before 2280 µm."""
        setup = setup_of(TRIP | {"measure": "position", "above": above})
        assert one("linear_range", setup, series_of()).finding == finding

    def test_what_is_missing_is_told(self) -> None:
        bare = {k: v for k, v in X.items() if k not in ("rest_gap_um", "linear_range_um")}
        assert one("linear_range", setup_of(TRIP, probes=[bare])).finding == "unknown"
        no_gap = bare | {"linear_range_um": [250.0, 2280.0]}
        assert one("linear_range", setup_of(TRIP, probes=[no_gap])).finding == "unknown"


class TestClearance:
    @pytest.mark.parametrize(("above", "finding"), [(239.0, "in_order"), (240.0, "against")])
    def test_vibration(self, above: float, finding: str) -> None:
        setup = setup_of(TRIP | {"above": above}, plane=[PLANE])
        assert one("clearance", setup).finding == finding

    @pytest.mark.parametrize(
        ("side", "value", "finding"),
        [
            # From the bottom, 45° from vertical: towards the probe 120 (1 + cos 45°) = 204.9 µm,
            # away from it 120 (1 - cos 45°) = 35.1 µm; 1300 µm at rest.
            ("below", 1096.0, "in_order"),
            ("below", 1094.0, "against"),
            ("above", 1334.0, "in_order"),
            ("above", 1336.0, "against"),
        ],
    )
    def test_position(self, side: str, value: float, finding: str) -> None:
        limit = {k: v for k, v in TRIP.items() if k != "above"}
        setup = setup_of(limit | {"measure": "position", side: value}, plane=[PLANE])
        assert one("clearance", setup).finding == finding

    @pytest.mark.parametrize("rest", ["bottom", "top", "left", "right", "centre"])
    def test_the_reach_is_that_of_the_circle(self, rest: str) -> None:
        """Against the solved pair: gaps of points on the clearance circle, for both probes."""
        setup = setup_of(ALARM, plane=[PLANE | {"rest": rest}])
        (plane,) = setup.plane
        start = {
            "bottom": (0.0, -120.0),
            "top": (0.0, 120.0),
            "left": (-120.0, 0.0),
            "right": (120.0, 0.0),
            "centre": (0.0, 0.0),
        }[rest]
        angle = np.linspace(0.0, 2.0 * np.pi, 3601)
        circle = np.array([120.0 * np.cos(angle), 120.0 * np.sin(angle)])
        moved = circle - np.array(start)[:, None]
        for probe in setup.probe:
            gaps = 1300.0 - np.array(probe.direction) @ moved
            assert _gap_within_clearance(plane, probe) == pytest.approx(
                (gaps.min(), gaps.max()), abs=0.01
            )

    def test_zones_that_come_near_it(self) -> None:
        """C/D is 220 µm at 3600 r/min, more than 0.7 of 240 µm; of 400 µm it is not."""
        for clearance, told in ((240.0, True), (400.0, False)):
            setup = setup_of(ALARM, plane=[PLANE | {"clearance_um": clearance}])
            titles = [each.title for each in advice(setup, series_of(), 0)]
            assert ("Zones and clearance" in titles) is told


@pytest.mark.parametrize(("above", "finding"), [(159.0, "in_order"), (160.0, "against")])
def test_alarm_before_trip(above: float, finding: str) -> None:
    setup = setup_of(ALARM | {"above": above}, TRIP)
    assert one("order", setup, index=0).finding == finding
    assert one("order", setup, index=1).finding == finding


def test_a_trip_without_an_alarm() -> None:
    assert one("order", setup_of(TRIP)).finding == "look"
    assert one("order", setup_of(TRIP, ALARM | {"probes": ["Y"]})).finding == "look"


@pytest.mark.parametrize(
    ("delay", "finding"), [(0.9, "look"), (1.0, "in_order"), (3.0, "in_order"), (3.1, "look")]
)
def test_delay(delay: float, finding: str) -> None:
    found = one("delay", setup_of(TRIP | {"delay_s": delay}))
    assert (found.finding, found.suggested, found.quantity) == (finding, (1.0, 3.0), "s")


def test_a_trip_that_does_not_latch() -> None:
    assert one("latching", setup_of(TRIP)).finding == "in_order"
    assert one("latching", setup_of(TRIP | {"latching": False})).finding == "against"
    assert one("latching", setup_of(ALARM)).finding == "look"


def test_thrust_two_out_of_two() -> None:
    thrust = {
        "probes": ["A", "B"],
        "measure": "position",
        "level": "trip",
        "above": 1700.0,
        "latching": True,
        "delay_s": 1.0,
    }
    for votes, finding in ((2, "in_order"), (1, "against")):
        setup = setup_of(thrust | {"votes": votes}, probes=AXIAL)
        assert one("votes", setup).finding == finding
    alone = setup_of(thrust | {"probes": ["A"]}, probes=AXIAL)
    assert one("votes", alone).finding == "against"


def test_a_radial_circuit_fault_alone_must_not_trip() -> None:
    assert one("circuit_fault", setup_of(TRIP)).finding == "in_order"
    voted = TRIP | {"probes": ["X", "Y"], "measure": "position", "above": 1500.0, "votes": 2}
    assert one("circuit_fault", setup_of(voted)).finding == "look"
    blind = {k: v for k, v in X.items() if k != "fault_v"}
    assert one("circuit_fault", setup_of(TRIP, probes=[blind])).finding == "against"


@pytest.mark.parametrize(
    ("rpm", "factor", "finding"),
    [
        ([3000.0, 3600.0], 2.0, "against"),
        ([1000.0, 2000.0], 2.0, "look"),
        ([1000.0, 2000.0], 1.7, "look"),
    ],
)
def test_multiplier(rpm: list[float], factor: float, finding: str) -> None:
    setup = setup_of(TRIP | {"multiplier": {"factor": factor, "rpm": rpm}})
    assert one("multiplier", setup).finding == finding


def test_a_region_is_not_judged_by_levels() -> None:
    vector = {
        "probes": ["X"],
        "measure": "1x_vector",
        "level": "trip",
        "region": {"amplitude_um": [10.0, 60.0], "lag_deg": [0.0, 90.0]},
        "latching": True,
    }
    topics = {each.topic for each in advice(setup_of(vector), series_of(), 0)}
    assert {"delay", "latching"} <= topics
    assert not {"level", "linear_range", "clearance", "normal"} & topics


def test_there_is_no_such_limit() -> None:
    with pytest.raises(IndexError):
        advice(setup_of(ALARM), None, 3)
