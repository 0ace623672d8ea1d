"""4-20 mA current loops.

Sources: the straight line 4 + 16 (x - low)/(high - low) mA and its volts across 250 Ω (1 to 5 V)
are **common practice**, the table **computed**. Bands of NAMUR NE 43, 3.8 to 20.5 mA for readings
and 3.6 mA or less for a fault, **seen** in three articles on it.
"""

from __future__ import annotations

import pytest

from analysis.model.capture import ArraySource, Capture, Channel
from analysis.protection.current_output import current_ma, voltage_across
from analysis.views.readings import read_span
from tests.analysis.synthetic import Signal, capture_of, setup_of, steady

SPAN = [(3.8, -1.25, 0.95), (4.0, 0.0, 1.0), (12.0, 50.0, 3.0), (20.0, 100.0, 5.0)]
ABOVE = [(20.5, 103.125, 5.125)]
each_range = pytest.mark.parametrize(("low", "high"), [(0.0, 200.0), (254.0, 2286.0), (2286, 254)])


@each_range
@pytest.mark.parametrize(("ma", "percent", "volts"), SPAN + ABOVE)
def test_table(low: float, high: float, ma: float, percent: float, volts: float) -> None:
    current = current_ma(low + (high - low) * percent / 100.0, low, high)
    assert current == pytest.approx(ma, abs=1e-9)
    assert voltage_across(current) == pytest.approx(volts, abs=1e-9)


@each_range
@pytest.mark.parametrize(
    ("percent", "held"), [(-2.5, 3.8), (-400, 3.8), (106.25, 20.5), (999, 20.5)]
)
def test_readings_stay_out_of_the_fault_bands(
    low: float, high: float, percent: float, held: float
) -> None:
    assert current_ma(low + (high - low) * percent / 100.0, low, high) == held


def test_a_fault_is_told_apart() -> None:
    assert current_ma(100.0, 0.0, 200.0, fault=True) == 3.6
    assert voltage_across(3.6) == pytest.approx(0.90)


OUTPUTS = [
    {"probe": "X", "measure": "peak_to_peak", "range_um": [0.0, 200.0]},
    {"probe": "X", "measure": "1x", "range_um": [0.0, 125.0]},
    {"probe": "X", "measure": "position", "range_um": [254.0, 2286.0]},
]


def test_outputs_of_a_capture() -> None:
    """80 µm p-p at 1270 µm: 10.4 mA of 0-200 µm p-p, 14.24 mA of 0-125 µm, 12 mA of 10-90 mil."""
    signal = Signal(1270.0, {1: (80.0, 33.0)})
    capture = capture_of(steady(3000.0), 2.0, 25_600.0, signals={"X": signal, "Y": signal})
    outputs = read_span(capture, setup_of(output=OUTPUTS), capture.span).probes["X"].outputs_ma
    assert outputs["peak_to_peak"] == pytest.approx(10.4, abs=0.002)
    assert outputs["1x"] == pytest.approx(14.24, abs=0.001)
    assert outputs["position"] == pytest.approx(12.0, abs=0.0005)


def test_a_dead_circuit_drives_every_output_to_the_fault_current() -> None:
    signal = Signal(1270.0, {1: (80.0, 33.0)})
    good = capture_of(steady(3000.0), 1.0, 5000.0, signals={"X": signal, "Y": signal})
    dead = Channel("X", 5000.0, ArraySource(good.channels["X"].volts(0, 5000) * 0.0))
    capture = Capture("dead", {**good.channels, "X": dead})
    reading = read_span(capture, setup_of(output=OUTPUTS), capture.span).probes["X"]
    assert reading.circuit_fault
    assert dict(reading.outputs_ma) == {"peak_to_peak": 3.6, "1x": 3.6, "position": 3.6}
