"""The order filter where per-turn Fourier fails: crossing orders, and peaks of a few turns."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.model.capture import ArraySource, Capture, Channel
from analysis.rotor.response.order_filter import filtered_points
from analysis.rotor.response.vold_kalman import order_envelopes, weight
from analysis.rotor.revolutions import table_of
from analysis.rotor.turns import find_turns
from tests.analysis.runs import jeffcott, run_capture
from tests.analysis.synthetic import pulses, setup_of, volts_of

SETUP = setup_of()


def test_crossing_components_come_apart() -> None:
    """A swept order passes a line at constant frequency: both keep their amplitude through it."""
    rate = 1000.0
    times = np.arange(20_000) / rate
    swept = 2.0 * np.pi * (10.0 * times + times**2)  # 10 to 50 Hz, crosses 30 Hz at 10 s
    steady = 2.0 * np.pi * 30.0 * times
    one = 3.0 + np.sin(0.5 * times)
    values = one * np.cos(swept - 1.0) + 2.0 * np.cos(steady - 0.3)
    both = order_envelopes(values, np.stack([swept, steady]), rate, 0.5)
    inside = slice(4000, 16_000)
    assert np.abs(np.abs(both.vectors[0]) - 2.0 * one)[inside].max() < 0.1
    assert np.abs(np.abs(both.vectors[1]) - 4.0)[inside].max() < 0.1
    # Alone, either beats with the other at the crossing.
    alone = order_envelopes(values, swept[np.newaxis], rate, 0.5)
    assert np.abs(np.abs(alone.vectors[0]) - 2.0 * one)[inside].max() > 1.0


def test_a_line_that_the_run_crosses_does_not_disturb_1x() -> None:
    """1X of each turn takes in a steady 40 Hz line where the speed passes it; the filter less."""
    rate = 4096.0
    times = np.arange(round(30.0 * rate)) / rate
    rpm = 1200.0 + 80.0 * times
    turns = 20.0 * times + 80.0 / 120.0 * times**2
    motion = 20.0 * np.cos(2.0 * np.pi * turns - 1.0)
    line = 6.0 * np.cos(2.0 * np.pi * 25.7 * times)
    gap = 1250.0 - motion - line
    channels = {
        "REF": Channel("REF", rate, ArraySource(pulses(turns))),
        "X": Channel("X", rate, ArraySource(volts_of(gap))),
    }
    capture = Capture("crossing", channels)
    found = find_turns(capture, SETUP, capture.span)
    probe = SETUP.probe_named("X")
    points = filtered_points(capture, probe, found, (1,), bandwidth_hz=0.5)[1]
    table = table_of(capture, SETUP, found, orders=(1,))
    plain = table.probes["X"].vectors[1]
    truth = 40.0 * np.exp(-1j)
    away = (np.abs(rpm[-1] - points.speed_rpm) > 200.0) & (points.speed_rpm > 1800.0)
    filtered = np.abs(points.vectors - truth)[away]
    assert np.sqrt(np.mean(filtered**2)) < 0.2 * np.sqrt(np.mean(np.abs(plain - truth)[away] ** 2))


def test_vectors_of_a_run_are_those_of_the_closed_form() -> None:
    def vector(rpm: np.ndarray) -> np.ndarray:
        return 10.0 * jeffcott(rpm, 2400.0, 0.05)

    capture = run_capture({"X": vector}, 900.0, 3600.0, 60.0, noise_um=0.5)
    turns = find_turns(capture, SETUP, capture.span)
    points = filtered_points(capture, SETUP.probe_named("X"), turns, bandwidth_hz=6.0)
    truth = vector(points[1].speed_rpm)
    inside = slice(20, -20)
    assert np.abs(points[1].vectors - truth)[inside].max() < 0.02 * np.abs(truth).max()
    # Nothing of order two in it.
    assert np.median(np.abs(points[2].vectors[inside])) < 0.2


def test_long_stretches_are_joined_without_a_seam(monkeypatch: pytest.MonkeyPatch) -> None:
    def vector(rpm: np.ndarray) -> np.ndarray:
        return 10.0 * jeffcott(rpm, 2400.0, 0.05)

    capture = run_capture({"X": vector}, 1500.0, 3300.0, 100.0, noise_um=0.5)
    turns = find_turns(capture, SETUP, capture.span)
    probe = SETUP.probe_named("X")
    whole = filtered_points(capture, probe, turns, (1,))[1].vectors
    monkeypatch.setattr("analysis.rotor.response.order_filter._SEGMENT", 9000)
    parts = filtered_points(capture, probe, turns, (1,))[1].vectors
    assert np.abs(parts - whole)[20:-20].max() < 0.05


def test_a_fault_voids_its_neighbourhood_alone() -> None:
    def vector(rpm: np.ndarray) -> np.ndarray:
        return 20.0 + 0j * rpm

    capture = run_capture({"X": vector}, 1500.0, 2400.0, 60.0)
    volts = np.array(capture.channels["X"].volts(0, len(capture.channels["X"])))
    volts[40_000:40_100] = -23.9
    channels = {**capture.channels, "X": Channel("X", 4096.0, ArraySource(volts))}
    broken = Capture("broken", channels)
    turns = find_turns(broken, SETUP, broken.span)
    points = filtered_points(broken, SETUP.probe_named("X"), turns, (1,))[1]
    void = np.isnan(points.vectors)
    assert 5 < np.count_nonzero(void) < 40
    assert np.all(np.abs(points.time_s[void] - 40_050 / 4096.0) < 0.3)


@pytest.mark.parametrize(
    ("bandwidth", "poles"), [(0.0, 2), (5000.0, 2), (4.0, 0), (4.0, 5), (-1.0, 2)]
)
def test_what_makes_no_sense_is_refused(bandwidth: float, poles: int) -> None:
    with pytest.raises(ValueError, match=r"bandwidth|poles"):
        weight(bandwidth, 4096.0, poles)


def test_shapes_are_checked() -> None:
    with pytest.raises(ValueError, match="one length"):
        order_envelopes(np.zeros(10), np.zeros((1, 9)), 100.0, 1.0)
    with pytest.raises(ValueError, match="digits"):
        order_envelopes(np.zeros(100), np.zeros((1, 100)), 4096.0, 0.5, poles=4)
    with pytest.raises(ValueError, match="samples"):
        order_envelopes(np.zeros(4), np.zeros((1, 4)), 100.0, 1.0)
