"""Captures that are not as they should be: the Position page answers with what there is."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.jobs import JobCancelled, Progress
from analysis.model.capture import ArraySource, Capture, Channel
from analysis.model.results import RevolutionTable
from analysis.model.span import TimeSpan
from analysis.rotor.revolutions import revolution_table
from analysis.views.position import PositionRequest, answer_position, capture_position
from tests.analysis.position_captures import capture_with, setup_with, sine

GAPS = {"X": sine(2240.0, 60.0), "Y": sine(1200.0, 50.0, 90.0)}
SETUP = setup_with(
    {"name": "X", "rest_gap_um": 2300.0},
    {"name": "Y", "angle_deg": -45.0, "rest_gap_um": 1250.0},
    {"name": "Z", "angle_deg": 0.0},
    plane={"name": "P", "probes": ["X", "Y"], "clearance_um": 240.0},
)


def capture_of_floats(broken: slice) -> Capture:
    made = capture_with(GAPS, 2.0)
    volts = made.channels["X"].volts(0, len(made.channels["X"]))
    volts[broken] = np.nan
    x = Channel("X", 8192.0, ArraySource(volts))
    return Capture("floats", {**made.channels, "X": x})


@pytest.mark.parametrize("count", [0, 1, 2, 5, 100])
def test_a_table_that_is_still_being_made(count: int) -> None:
    capture = capture_with(GAPS, 2.0)
    full = revolution_table(capture, SETUP, capture.span)
    end = float(full.end_s[count - 1]) if count else 0.0
    part = revolution_table(capture, SETUP, TimeSpan(0.0, end))
    whole = capture_position(capture, SETUP, part)
    for moment in (0.0, 0.01, 1.0, 2.0):
        found = answer_position(capture, SETUP, PositionRequest(moment), whole)
        assert set(found.probes) == {"X", "Y"}
        use = found.probes["X"].moment
        assert use is not None
        assert use.mean_um == pytest.approx(2240.0, abs=0.2)
        assert found.moment_span.start_s <= moment + 0.1
        assert found.moment_span.end_s >= moment - 0.1


def test_a_probe_without_a_channel_is_left_out() -> None:
    capture = capture_with({"X": GAPS["X"]}, 1.0)
    whole = capture_position(capture, SETUP, revolution_table(capture, SETUP, capture.span))
    found = answer_position(capture, SETUP, PositionRequest(0.5), whole)
    assert set(found.probes) == {"X"}
    assert found.planes["P"].path is None
    assert "does not have both probes" in found.planes["P"].missing


@pytest.mark.parametrize("broken", [slice(120, 160), slice(5000, 5001), slice(4000, 12_000)])
def test_dropped_samples_void_their_turns_and_no_others(broken: slice) -> None:
    capture = capture_of_floats(broken)
    whole = capture_position(capture, SETUP, revolution_table(capture, SETUP, capture.span))
    use = whole.probes["X"].use
    assert use is not None
    turns = -(-(broken.stop - broken.start) // 102)
    assert turns - 1 <= use.void_turns <= turns + 2
    assert use.max_um == pytest.approx(2270.0, abs=0.6)
    assert whole.probes["X"].clips == ()
    found = answer_position(capture, SETUP, PositionRequest(broken.start / 8192.0), whole)
    assert any(f.topic == "fault" for f in found.findings if f.subject == "X")


def test_all_samples_dropped() -> None:
    capture = capture_of_floats(slice(0, None))
    whole = capture_position(capture, SETUP, revolution_table(capture, SETUP, capture.span))
    found = answer_position(capture, SETUP, PositionRequest(1.0), whole)
    assert found.probes["X"].moment is None
    assert found.planes["P"].moment is None
    assert found.findings[0].subject == "X"


def test_channels_of_unlike_rates_and_lengths() -> None:
    made = capture_with(GAPS, 2.0)
    slow = Channel(
        "Y", 1024.0, ArraySource(made.channels["Y"].volts(0, 16_384)[::8][:1024]), start_s=0.5
    )
    capture = Capture("unlike", {**made.channels, "Y": slow})
    whole = capture_position(capture, SETUP, revolution_table(capture, SETUP, capture.span))
    use = whole.probes["Y"].use
    assert use is not None
    # It covers one second of two; the rest is no fault.
    assert use.turns == pytest.approx(80, abs=2)
    assert use.void_turns == 0
    for moment in (0.1, 1.0, 1.9):
        found = answer_position(capture, SETUP, PositionRequest(moment), whole)
        assert (found.probes["Y"].moment is None) == (moment != 1.0)
        assert (found.planes["P"].moment is None) == (moment != 1.0)


def test_nothing_at_all() -> None:
    empty = Capture("empty", {"X": Channel("X", 8192.0, ArraySource(np.empty(0, np.int16)))})
    setup = setup_with({"name": "X"}, phase_reference=None)
    table = revolution_table(empty, setup, empty.span)
    assert len(table) == 0
    whole = capture_position(empty, setup, table)
    found = answer_position(empty, setup, PositionRequest(3.0), whole)
    assert found.probes["X"].moment is None
    bare = answer_position(empty, setup_with(phase_reference=None), PositionRequest(0.0))
    assert (dict(bare.probes), bare.findings, bare.train) == ({}, (), ())


def test_moments_outside_the_capture_are_its_ends() -> None:
    capture = capture_with(GAPS, 2.0)
    whole = capture_position(capture, SETUP, revolution_table(capture, SETUP, capture.span))
    for moment in (-50.0, 99.0):
        found = answer_position(capture, SETUP, PositionRequest(moment), whole)
        assert found.probes["X"].moment is not None
        assert 0.0 <= found.moment_span.start_s <= found.moment_span.end_s <= 2.0


def test_a_span_without_a_whole_turn_has_no_reading() -> None:
    capture = capture_with(GAPS, 2.0)
    whole = capture_position(capture, SETUP, revolution_table(capture, SETUP, capture.span))
    request = PositionRequest(1.0, span=TimeSpan(1.0, 1.001))
    assert answer_position(capture, SETUP, request, whole).probes["X"].chosen is None


def test_turns_of_very_many_samples_are_read_in_part() -> None:
    """At 5 r/min a turn has 98,304 samples: the look at it is bounded, the answer still comes."""
    capture = capture_with({"X": sine(2270.0, 60.0)}, 30.0, rpm=5.0)
    setup = setup_with({"name": "X"})
    table: RevolutionTable = revolution_table(capture, setup, capture.span)
    found = answer_position(
        capture, setup, PositionRequest(15.0), capture_position(capture, setup, table)
    )
    use = found.probes["X"].capture
    assert use is not None
    assert use.margin_um == pytest.approx(-20.0, abs=0.6)
    assert use.outside_fraction == pytest.approx(np.arccos(10.0 / 30.0) / np.pi, abs=0.1)


def test_it_can_be_stopped() -> None:
    class Stop:
        def report(self, share: float, what: str) -> None:
            raise JobCancelled

    capture = capture_with(GAPS, 1.0)
    table = revolution_table(capture, SETUP, capture.span)
    stop: Progress = Stop()
    with pytest.raises(JobCancelled):
        capture_position(capture, SETUP, table, stop)
