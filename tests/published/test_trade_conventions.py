"""Signs, directions and phase as the trade has them.

**Common practice** where nothing else is said, check values **computed**: the phase lag runs from
the once-per-turn event to the *next positive peak* and grows with delay (timing from the trigger to
the peak **seen** in an article on phase); positive is the shaft nearer the probe, which is the less
negative voltage; X is 45° right and Y 45° left of the vertical, looked at from the driver end, so
that Y lies 90° counter-clockwise of X (API 670, from memory).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.model.capture import ArraySource, Capture, Channel
from analysis.model.setup import Plane, Probe
from analysis.rotor.centreline import centreline
from analysis.rotor.orbit import ellipse, shaft_displacement
from analysis.rotor.phase_reference import TriggerLevels, crossings
from analysis.rotor.vectors import amplitude_and_lag, vector_from
from analysis.views.readings import read_span
from tests.analysis.synthetic import pulses, setup_of

MIL = 25.4


def pair(rest_um: float) -> tuple[Probe, Probe]:
    return tuple(
        Probe(name=n, angle_deg=a, scale_factor_mv_per_mil=200.0, rest_gap_um=rest_um)
        for n, a in (("X", 45.0), ("Y", -45.0))
    )


class TestPhaseLag:
    @pytest.mark.parametrize("lag", [0.0, 33.0, 120.0, 275.0])
    @pytest.mark.parametrize("rpm", [1200.0, 4711.0])
    def test_from_the_event_to_the_next_positive_peak(self, lag: float, rpm: float) -> None:
        """A bump towards the probe once a turn, no sine: its 1X lag is where the bump stands."""
        rate, seconds = 20_000.0, 3.0
        t = np.arange(round(rate * seconds)) / rate
        turns = 0.4 + rpm / 60.0 * t
        after_event = 360.0 * np.mod(turns, 1.0)
        bump = np.exp(4.0 * (np.cos(np.radians(after_event - lag)) - 1.0))
        volts = -10.0 + 0.5 * bump  # less negative where the shaft is nearer
        channels = {
            "X": Channel("X", rate, ArraySource(volts)),
            "Y": Channel("Y", rate, ArraySource(volts)),
            "REF": Channel("REF", rate, ArraySource(pulses(turns))),
        }
        capture = Capture("bumps", channels)
        vector = read_span(capture, setup_of(), capture.span).probes["X"].vectors[1]
        error = (vector.phase_lag_deg.value - lag + 180.0) % 360.0 - 180.0
        assert abs(error) < 0.1

    def test_later_is_more(self) -> None:
        """A quarter of a turn later: 90° more, and past 360° it starts again."""
        _, lag = amplitude_and_lag(vector_from(50.0, 300.0) * np.exp(-0.5j * np.pi))
        assert lag == pytest.approx(30.0)

    def test_timing_of_the_pulse(self) -> None:
        """dφ = 360 k f dt: at 100 turns a second 0.1 ms is 3.6° of 1X and 7.2° of 2X."""
        rate, f = 51_200.0, 100.0
        t = np.arange(round(2.0 * rate)) / rate
        theta = 2.0 * np.pi * f * t
        volts = -10.0 + 0.2 * np.cos(theta - 1.0) + 0.1 * np.cos(2.0 * theta - 2.0)
        readings = []
        for late_s in (0.0, 1e-4):
            reference = pulses(f * (t - late_s))
            channels = {
                "X": Channel("X", rate, ArraySource(volts)),
                "Y": Channel("Y", rate, ArraySource(volts)),
                "REF": Channel("REF", rate, ArraySource(reference)),
            }
            capture = Capture("late", channels)
            readings.append(read_span(capture, setup_of(), capture.span).probes["X"].vectors)
        for order, wanted in ((1, 3.6), (2, 7.2)):
            early, late = (r[order].phase_lag_deg.value for r in readings)
            # The later the pulse, the sooner after it the peak comes.
            assert early - late == pytest.approx(wanted, abs=0.02)


class TestThreshold:
    def test_between_two_samples(self) -> None:
        """t = h (L - v₀)/(v₁ - v₀): −8 between −5 and −10 is 0.6 of the way."""
        volts = np.array([-5.0, -5.0, -10.0, -10.0, -5.0, -5.0])
        places, _ = crossings(volts, TriggerLevels(-8.0, 1.0), falling=True)
        assert places == pytest.approx([1.6])
        places, _ = crossings(volts, TriggerLevels(-8.0, 1.0), falling=False)
        assert places == pytest.approx([3.4])


class TestDirections:
    def test_centre_line_resolve(self) -> None:
        """X −10.0 to −9.2 V, Y −10.0 to −9.5 V at 200 mV/mil: 1.06066 right, 4.59619 up (mil)."""
        probes = pair(50.0 * MIL)
        gaps = [(10.0 - 0.8) / 0.2 * MIL, (10.0 - 0.5) / 0.2 * MIL]
        found = centreline(*gaps, probes, Plane(name="P", probes=("X", "Y")), "ccw")
        assert found is not None
        assert found.x_um / MIL == pytest.approx(1.06066, abs=5e-6)
        assert found.y_um / MIL == pytest.approx(4.59619, abs=5e-6)

    @pytest.mark.parametrize(
        ("angle", "x", "y"),
        [(0.0, 0.0, 1.0), (90.0, 1.0, 0.0), (180.0, 0.0, -1.0), (-90.0, -1.0, 0.0)],
    )
    def test_a_probe_angle_runs_clockwise_from_the_top(
        self, angle: float, x: float, y: float
    ) -> None:
        probe = Probe(name="X", angle_deg=angle, scale_factor_mv_per_mil=200.0)
        assert probe.direction == pytest.approx((x, y), abs=1e-12)
        # The shaft moves 10 µm towards that probe, and not towards one at right angles to it.
        moved = shaft_displacement(np.array(10.0), np.array(0.0), angle, angle - 90.0)
        assert [float(v) for v in moved] == pytest.approx([10.0 * x, 10.0 * y], abs=1e-12)

    @pytest.mark.parametrize(("lag_behind", "with_ccw"), [(90.0, True), (20.0, True), (270, False)])
    def test_precession(self, lag_behind: float, with_ccw: bool) -> None:
        """Counter-clockwise when Y lags X by 0 to 180°; forward in the sense of rotation."""
        vectors = vector_from(50.0, 77.0), vector_from(40.0, 77.0 + lag_behind)
        for rotation, forward in (("ccw", with_ccw), ("cw", not with_ccw)):
            found = ellipse(1, *vectors, 45.0, -45.0, rotation)
            assert found.precession == ("forward" if forward else "backward")


class TestSlowRoll:
    @pytest.mark.parametrize(
        ("measured", "slow_roll", "left"),
        [((50, 120), (12, 300), (62.0, 120.0)), ((30, 45), (8, 10), (23.8916, 56.0730))],
    )
    def test_compensation_is_a_difference_of_vectors(
        self,
        measured: tuple[float, float],
        slow_roll: tuple[float, float],
        left: tuple[float, float],
    ) -> None:
        amplitude, lag = amplitude_and_lag(vector_from(*measured) - vector_from(*slow_roll))
        assert amplitude == pytest.approx(left[0], abs=5e-5)
        assert lag == pytest.approx(left[1], abs=5e-5)


class TestAmplitudes:
    def test_peak_to_peak_is_no_multiple_of_rms(self) -> None:
        """1X of 104 µm p-p, 2X of 22 µm with its peaks on those of 1X: 63 up, 41 down, 104 in all.

        2√2 rms would be 106.3 µm.
        """
        rate, rpm = 51_200.0, 3000.0
        t = np.arange(round(2.0 * rate)) / rate
        turns = rpm / 60.0 * t + 0.3
        theta = 2.0 * np.pi * turns
        s = 52.0 * np.cos(theta - 2.0) + 11.0 * np.cos(2.0 * theta - 4.0)
        volts = -10.0 + 0.007874 * s
        channels = {
            "X": Channel("X", rate, ArraySource(volts)),
            "Y": Channel("Y", rate, ArraySource(volts)),
            "REF": Channel("REF", rate, ArraySource(pulses(turns))),
        }
        capture = Capture("two orders", channels)
        reading = read_span(capture, setup_of(), capture.span).probes["X"]
        assert reading.peak_to_peak_um.value == pytest.approx(104.0, rel=1e-4)
        assert 2.0 * math.sqrt(2.0) * np.sqrt(np.mean(s**2)) == pytest.approx(106.3, abs=0.01)
