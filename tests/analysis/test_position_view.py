"""The Position page's answer: the sample's story, moments, spans, and what cannot be known."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from analysis.model.capture import ArraySource, Capture, Channel
from analysis.model.setup import Setup
from analysis.model.span import TimeSpan
from analysis.model.units import LengthUnit
from analysis.rotor.revolutions import revolution_table
from analysis.views.position import (
    CapturePosition,
    PositionRequest,
    PositionResult,
    answer_position,
    capture_position,
)
from analysis.views.readings import read_span
from tests.analysis.position_captures import capture_with, setup_with, sine
from tests.analysis.synthetic import SCALE, ramp
from tests.analysis.test_simulate_samples import opened, truth_of

PAIR = ({"name": "X"}, {"name": "Y", "angle_deg": -45.0})
PLANE = {"name": "P", "probes": ["X", "Y"], "clearance_um": 240.0, "rest": "bottom"}


def whole_of(capture: Capture, setup: Setup) -> CapturePosition:
    return capture_position(capture, setup, revolution_table(capture, setup, capture.span))


def told(result: PositionResult, topic: str, subject: str) -> list[str]:
    found = [f for f in result.findings if f.topic == topic and f.subject == subject]
    return [f.sentence for f in found]


@cache
def edge(moment_s: float = 18.2) -> PositionResult:
    capture, setup = opened("edge_of_range.h5")
    return answer_position(capture, setup, PositionRequest(moment_s), whole_of(capture, setup))


class TestTheStoryOfTheEdgeSample:
    """One probe is set too near the end of its range: which, since when, how far, what of p-p."""

    def test_the_worst_comes_first_and_names_the_probe(self) -> None:
        worst = edge().findings[0]
        assert (worst.severity, worst.topic, worst.subject) == ("severe", "outside", "NDE-X")
        assert worst.sentence.startswith("NDE-X: its peaks went past the far end")
        ranks = ["severe", "warning", "note", "in_order"]
        order = [ranks.index(f.severity) for f in edge().findings]
        assert order == sorted(order)

    def test_no_other_probe_is_blamed(self) -> None:
        bad = {f.subject for f in edge().findings if f.severity in ("severe", "warning")}
        assert bad == {"NDE-X"}

    def test_since_when_and_for_how_long(self) -> None:
        """Against the recipe's own gaps, with what its flattening curve leaves of them."""
        numbers = edge().findings[0].numbers
        times = np.arange(0.0, 32.0, 1.0 / 8192.0)
        gap = truth_of("edge_of_range.h5").gap_um("NDE-X", times)
        # What the recipe's curve, flatter there, makes of it on the setup's straight line.
        real = np.array([2240.0, 2270.0, 2300.0])
        volts = np.array([-17.6378, -17.861, -18.064])
        read = np.interp(gap, [0.0, *real], [0.0, *(-volts / 0.007874)])
        outside = read > 2280.0
        assert numbers["first_s"] == pytest.approx(times[outside][0], abs=0.1)
        assert numbers["outside_fraction"] == pytest.approx(float(outside.mean()), abs=0.003)
        # Three times the pressure swung up.
        assert numbers["stretches"] == 3
        assert 5.0 < numbers["outside_s"] < 8.0
        assert -9.0 < numbers["margin_um"] < -6.0

    def test_what_it_did_to_peak_to_peak(self) -> None:
        """The estimate holds the truth within its own spread, and the reading lies below both."""
        hidden = edge().probes["NDE-X"].hidden
        assert hidden is not None
        truth = truth_of("edge_of_range.h5")
        starts = np.linspace(hidden.span.start_s, hidden.span.end_s - 60.0 / 4980.0, 5)
        true = np.mean(
            [
                truth.peak_to_peak_um("NDE-X", TimeSpan(float(a), float(a) + 60.0 / 4980.0), 4001)
                for a in starts
            ]
        )
        assert hidden.read_um < true - 3.0
        assert abs(hidden.estimated_um - true) < 2.0 * hidden.deviation_um
        assert abs(hidden.estimated_um - true) < abs(hidden.read_um - true)
        assert told(edge(), "hidden", "NDE-X")

    def test_limits_that_the_probe_cannot_show(self) -> None:
        (sentence,) = told(edge(), "cut_before_limit", "NDE-X")
        assert "ALARM at 95 µm and TRIP at 125 µm" in sentence

    def test_forecast_and_where_it_should_sit(self) -> None:
        (sentence,) = told(edge(), "forecast", "NDE-X")
        assert "must fall by" in sentence
        (sentence,) = told(edge(2.0), "forecast", "NDE-X")
        assert "may rise by 1" in sentence  # some ten µm are left while it is calm
        (setting,) = told(edge(), "margin", "NDE-X")
        assert "98 % of the way" in setting
        assert "locked out" in setting

    def test_healthy_probes_are_said_to_be_healthy(self) -> None:
        for name in ("DE-X", "DE-Y", "NDE-Y", "THR-A", "THR-B"):
            (sentence,) = told(edge(), "margin", name)
            assert "inside its linear range all the time" in sentence
        assert told(edge(), "thrust", "THR-A / THR-B")

    def test_in_mil(self) -> None:
        capture, setup = opened("edge_of_range.h5")
        request = PositionRequest(18.2, unit=LengthUnit.MIL)
        found = answer_position(capture, setup, request, whole_of(capture, setup)).findings
        assert "89.76 mil" in found[0].sentence
        assert not any("µm" in f.sentence for f in found)

    @pytest.mark.parametrize("name", ["run_up.h5", "whirl.h5", "few_turns.csv"])
    def test_samples_that_are_in_order_have_no_warning(self, name: str) -> None:
        capture, setup = opened(name)
        at = capture.span.length_s / 2.0
        found = answer_position(capture, setup, PositionRequest(at), whole_of(capture, setup))
        assert [f for f in found.findings if f.severity in ("severe", "warning")] == []
        for probe in found.probes.values():
            assert (probe.clips, probe.moment_clips, probe.hidden) == ((), (), None)


def test_numbers_are_those_of_measure() -> None:
    """Moment, span and capture agree with the readings that cards and `measure` show."""
    capture, setup = opened("edge_of_range.h5")
    span = TimeSpan(6.0, 8.0)
    found = answer_position(
        capture, setup, PositionRequest(7.0, span=span), whole_of(capture, setup)
    )
    uses = {"moment": found.moment_span, "chosen": span}
    for scope, over in uses.items():
        readings = read_span(capture, setup, over)
        for name, probe in found.probes.items():
            use, reading = getattr(probe, scope), readings.probes[name]
            assert use.mean_um == pytest.approx(reading.gap_um.value, abs=1e-6)
            assert use.peak_to_peak_um == pytest.approx(reading.peak_to_peak_um.value, abs=1e-6)
            assert use.margin_um == pytest.approx(reading.linear_range.margin_um, abs=0.3)
            assert use.outside_fraction == pytest.approx(
                reading.linear_range.outside_fraction, abs=2e-3
            )
        if scope == "moment":
            for name, plane in found.planes.items():
                line = readings.planes[name].centreline
                assert plane.moment is not None
                assert plane.moment.attitude_deg == pytest.approx(line.attitude_deg, abs=1e-6)


def test_the_moment_alone_says_the_same_of_the_moment() -> None:
    capture, setup = opened("edge_of_range.h5")
    alone = answer_position(capture, setup, PositionRequest(18.2))
    assert not alone.whole
    for name, probe in edge().probes.items():
        other = alone.probes[name]
        assert probe.moment is not None
        assert other.moment is not None
        assert other.moment.mean_um == pytest.approx(probe.moment.mean_um, abs=1e-3)
        assert other.moment.margin_um == pytest.approx(probe.moment.margin_um, abs=1e-9)
        assert (other.capture, other.hidden) == (None, None)
    assert alone.findings[0].subject == "NDE-X"


@pytest.mark.parametrize(
    ("limits", "cause", "level_um"),
    [((-17.0, 40.0), "flattened", 17.0 / SCALE), ((-40.0, 40.0), "converter", None)],
)
def test_cuts_of_a_whole_capture(
    limits: tuple[float, float], cause: str, level_um: float | None
) -> None:
    """From 2 s on the gap rises into the cut, up to 4 s: which turns, since when, how much."""
    step = 0.001 if level_um else 0.0005  # the converter ends at -16.384 V then, 2080.8 µm
    level = level_um or 16.384 / SCALE
    rise = 30.0

    def gap(t: np.ndarray, theta: np.ndarray) -> np.ndarray:
        grown = 20.0 + 40.0 * np.clip((t - 2.0) / 2.0, 0.0, 1.0)
        return level - rise + grown * np.cos(theta) + 4.0 * np.cos(2.0 * theta + 1.0)

    capture = capture_with({"X": gap}, 4.0, limits={"X": limits}, steps_v={"X": step})
    setup = setup_with({"name": "X"})
    found = answer_position(capture, setup, PositionRequest(3.9), whole_of(capture, setup))
    (clip,) = found.probes["X"].clips
    assert (clip.cause, clip.end) == (cause, "far")
    assert clip.level_um == pytest.approx(level, abs=0.6)
    t = np.arange(0.0, 4.0, 1.0 / 8192.0)
    uncut = gap(t, 2.0 * np.pi * 80.0 * t)
    first = t[uncut > level][0]
    assert clip.first_s == pytest.approx(first, abs=0.15)
    assert clip.seconds == pytest.approx(4.0 - first, abs=0.2)
    assert found.probes["X"].moment_clips[0].cause == cause
    # What it took from p-p, and that this is seen for what it is.
    hidden = found.probes["X"].hidden
    assert hidden is not None
    turn = (t >= hidden.span.start_s) & (t < hidden.span.start_s + 1.0 / 80.0)
    true, read = np.ptp(uncut[turn]), level - uncut[turn].min()
    assert hidden.read_um == pytest.approx(read, abs=1.0)
    assert hidden.estimated_um == pytest.approx(true, abs=2.0)
    assert hidden.is_clear
    severe = [f.topic for f in found.findings if f.severity == "severe"]
    assert severe[0] == "clipping"
    assert "hidden" in severe
    before = answer_position(capture, setup, PositionRequest(0.5), whole_of(capture, setup))
    assert before.probes["X"].moment_clips == ()


def test_the_one_that_is_furthest_outside_comes_first() -> None:
    capture = capture_with({"X": sine(2260.0, 60.0), "Y": sine(240.0, 60.0)}, 1.0)
    setup = setup_with(*PAIR)
    found = answer_position(capture, setup, PositionRequest(0.5), whole_of(capture, setup))
    assert [(f.topic, f.subject) for f in found.findings[:2]] == [
        ("outside", "Y"),
        ("outside", "X"),
    ]
    assert "Y: the gap itself went past the near end" in found.findings[0].sentence
    assert "X: its peaks went past the far end" in found.findings[1].sentence
    assert found.findings[0].numbers["margin_um"] == pytest.approx(-40.0, abs=0.6)


def test_a_cut_at_the_near_end() -> None:
    """The same at the near end: -4 V, 508 µm, cut all the time."""
    level = 4.0 / SCALE
    capture = capture_with({"X": sine(level + 30.0, 80.0)}, 2.0, limits={"X": (-40.0, -4.0)})
    setup = setup_with({"name": "X"})
    found = answer_position(capture, setup, PositionRequest(1.0), whole_of(capture, setup))
    (clip,) = found.probes["X"].clips
    assert (clip.end, clip.cause) == ("near", "flattened")
    assert clip.level_um == pytest.approx(level, abs=0.5)
    assert clip.turns is not None
    assert clip.turns >= 158  # of 159 whole ones
    # No turn is free of it, so that nobody can say what it took.
    assert found.probes["X"].hidden is None


@pytest.mark.parametrize("dropouts", [0, 1])
def test_peaks_that_pass_the_fault_limit_void_their_turns(dropouts: int) -> None:
    """Mean at -21.9 V with 0.3 V of swing from 2 s on: every turn dips below -22 V and is void.

    A moment without supply before that is another matter.
    """

    def gap(t: np.ndarray, theta: np.ndarray) -> np.ndarray:
        return np.where(t < 2.0, 2700.0, 21.9 / SCALE) + 38.0 * np.cos(theta)

    def with_dropouts(t: np.ndarray, theta: np.ndarray) -> np.ndarray:
        return np.where(dropouts * (np.abs(t - 0.6) < 0.1), 0.0, gap(t, theta))

    capture = capture_with({"X": with_dropouts}, 4.0)
    setup = setup_with({"name": "X", "linear_range_um": [250.0, 2790.0]})
    found = answer_position(capture, setup, PositionRequest(3.0), whole_of(capture, setup))
    (clip,) = found.probes["X"].clips
    assert (clip.cause, clip.end, clip.level_v) == ("fault_limit", "far", -22.0)
    assert clip.turns == pytest.approx(160, abs=2)
    assert clip.first_s == pytest.approx(2.0, abs=0.02)
    assert found.probes["X"].moment is None
    assert [loop.current_ma for loop in found.probes["X"].loops] == [3.6, 3.6]
    assert "void" in told(found, "clipping", "X")[0]


def test_a_dead_probe_is_said_to_be_dead() -> None:
    capture = capture_with({"X": sine(1200.0, 50.0)}, 1.0)
    dead = Channel("X", 8192.0, ArraySource(np.full(8192, -0.1)))
    capture = Capture("dead", {**capture.channels, "X": dead})
    setup = setup_with({"name": "X"})
    found = answer_position(capture, setup, PositionRequest(0.5), whole_of(capture, setup))
    assert found.probes["X"].capture is None
    assert found.findings[0].topic == "fault"
    assert found.probes["X"].clips == ()


def test_a_flat_stretch_of_the_curve_is_told_with_what_it_makes_of_peak_to_peak() -> None:
    curve = [[250.0, -1.9685], [2000.0, -15.748], [2250.0, -16.7]]
    volts = -15.748 - 0.003808 * (
        100.0 + 40.0 * np.cos(2.0 * np.pi * 80.0 * np.arange(8192) / 8192)
    )
    base = capture_with({"X": sine(1200.0, 50.0)}, 1.0)
    capture = Capture("flat", {**base.channels, "X": Channel("X", 8192.0, ArraySource(volts))})
    setup = setup_with({"name": "X", "calibration": curve})
    found = answer_position(capture, setup, PositionRequest(0.5), whole_of(capture, setup))
    point = found.probes["X"].working_point
    assert point is not None
    assert point.peak_to_peak_um == pytest.approx(80.0, abs=0.1)
    assert point.straight_um == pytest.approx(80.0 * 3.808 / 7.874, abs=0.1)
    assert "51.6 % less p-p" in told(found, "slope", "X")[0]


@pytest.mark.parametrize(
    ("step_v", "fault_v", "near_v", "far_v"),
    [
        (0.001, [-22.0, -0.5], -0.5, -22.0),  # the fault limits come first
        (0.0005, [-22.0, -0.5], -0.5, -16.384),  # the converter ends before the far one
        (0.0005, None, 16.3835, -16.384),
    ],
)
def test_where_nothing_more_is_seen(
    step_v: float, fault_v: list[float] | None, near_v: float, far_v: float
) -> None:
    capture = capture_with({"X": sine(1200.0, 50.0)}, 0.5, steps_v={"X": step_v})
    setup = setup_with({"name": "X", "fault_v": fault_v})
    stops = answer_position(capture, setup, PositionRequest(0.2)).probes["X"].stops_um
    assert stops == pytest.approx((-near_v / SCALE, -far_v / SCALE))


class TestCentreline:
    """A run-up from 120 r/min whose journal rises 60 µm and goes 40 µm to the right."""

    def capture(self) -> Capture:
        def towards(sign: float):
            def gap(t: np.ndarray, theta: np.ndarray) -> np.ndarray:
                risen = np.clip((t - 4.0) / 12.0, 0.0, 1.0)
                return 1300.0 - risen * (60.0 + sign * 40.0) / np.sqrt(2.0) + 3.0 * np.cos(theta)

            return gap

        return capture_with(
            {"X": towards(1.0), "Y": towards(-1.0)}, 16.0, turns_at=ramp(120.0, 3000.0, 16.0)
        )

    @pytest.mark.parametrize("rest_um", [1300.0, None])
    def test_path_and_what_rest_is_taken_from(self, rest_um: float | None) -> None:
        capture = self.capture()
        probes = [{**p, "rest_gap_um": rest_um} for p in PAIR]
        setup = setup_with(*probes, plane=PLANE)
        found = answer_position(capture, setup, PositionRequest(15.8), whole_of(capture, setup))
        plane = found.planes["P"]
        assert plane.rest is not None
        assert plane.rest.assumed is (rest_um is None)
        assert bool(told(found, "rest", "P")) is (rest_um is None)
        assert plane.path is not None
        risen = np.clip((plane.path.time_s - 4.0) / 12.0, 0.0, 1.0)
        assert plane.path.x_um == pytest.approx(40.0 * risen, abs=0.3)
        assert plane.path.y_um == pytest.approx(-120.0 + 60.0 * risen, abs=0.3)
        assert plane.path.speed_rpm[-1] == pytest.approx(2990.0, abs=15.0)
        assert plane.moment is not None
        assert plane.moment.eccentricity_ratio == pytest.approx(np.hypot(40, 60) / 120, abs=0.01)
        assert [s.name for s in found.train] == ["P"]

    def test_a_direction_nobody_gave_is_assumed(self) -> None:
        plane = {k: v for k, v in PLANE.items() if k != "rest"}
        setup = setup_with(*({**p, "rest_gap_um": 1300.0} for p in PAIR), plane=plane)
        capture = self.capture()
        found = answer_position(capture, setup, PositionRequest(8.0), whole_of(capture, setup))
        assert found.planes["P"].direction_assumed
        assert "taken to rest at the bottom" in told(found, "rest", "P")[0]

    def test_rest_gaps_that_cannot_be_are_noticed(self) -> None:
        setup = setup_with(*({**p, "rest_gap_um": 1500.0} for p in PAIR), plane=PLANE)
        capture = self.capture()
        found = answer_position(capture, setup, PositionRequest(15.9), whole_of(capture, setup))
        assert found.planes["P"].outside_turns > 0
        assert told(found, "clearance", "P")

    def test_no_rest_no_path(self) -> None:
        capture = capture_with({"X": sine(1200.0, 50.0), "Y": sine(1200.0, 50.0)}, 1.0)
        setup = setup_with(*PAIR, plane=PLANE)
        found = answer_position(capture, setup, PositionRequest(0.5), whole_of(capture, setup))
        assert (found.planes["P"].path, found.planes["P"].moment) == (None, None)
        assert "no turns slow enough" in told(found, "rest", "P")[0]


def test_a_shaft_that_stands_still_is_read_in_blocks() -> None:
    """Turns for 1 s, then rest at another gap: a moment at rest is not answered from the turns."""

    def turns(t: np.ndarray) -> np.ndarray:
        return 50.0 * np.minimum(t, 1.0) + 0.25

    capture = capture_with(
        {"X": lambda t, theta: np.where(t < 1.0, 1200.0, 1290.0)}, 6.0, turns_at=turns
    )
    setup = setup_with({"name": "X"})
    found = answer_position(capture, setup, PositionRequest(5.0), whole_of(capture, setup))
    assert found.probes["X"].moment is not None
    assert found.probes["X"].moment.mean_um == pytest.approx(1290.0, abs=0.1)


def test_without_a_phase_reference_blocks_stand_for_turns() -> None:
    capture = capture_with({"X": sine(2240.0, 100.0)}, 2.0)
    setup = setup_with({"name": "X"}, phase_reference=None)
    found = answer_position(capture, setup, PositionRequest(1.0), whole_of(capture, setup))
    probe = found.probes["X"]
    assert probe.capture is not None
    assert probe.capture.margin_um == pytest.approx(-10.0, abs=0.5)
    assert probe.hidden is None  # no shaft angle, no orders to follow
