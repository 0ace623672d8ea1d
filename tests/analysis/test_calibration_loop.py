"""The check of a current loop at even shares of its span. Figures by hand."""

from __future__ import annotations

import pytest

from analysis.calibration.loop import (
    current_from_voltage,
    judged_loop,
    loop_points,
    loop_verdict,
    span_error_percent,
)


@pytest.mark.parametrize(("low", "high"), [(0.0, 200.0), (250.0, 2250.0), (2286.0, 254.0)])
def test_points(low: float, high: float) -> None:
    points = loop_points(low, high)
    assert [p.percent for p in points] == [0, 25, 50, 75, 100]
    assert [p.expected_ma for p in points] == pytest.approx([4, 8, 12, 16, 20])
    assert [p.expected_v for p in points] == pytest.approx([1, 2, 3, 4, 5])
    quarter = (high - low) / 4.0
    assert [p.value_um for p in points] == pytest.approx([low + i * quarter for i in range(5)])
    assert all(p.read_ma is p.error_percent is p.result is None for p in points)


def test_another_load_and_points_beyond_the_span() -> None:
    points = loop_points(0.0, 100.0, (-10.0, 50.0, 110.0), load_ohm=100.0)
    assert [p.expected_ma for p in points] == pytest.approx([3.8, 12.0, 20.5])
    assert [p.expected_v for p in points] == pytest.approx([0.38, 1.2, 2.05])


def test_errors_in_per_cent_of_span() -> None:
    """0.16 mA of 16 mA is 1 %."""
    points = judged_loop(loop_points(0.0, 200.0), (4.0, 8.16, 11.84, 16.2, None), 1.0)
    assert [p.error_percent for p in points[:4]] == pytest.approx([0.0, 1.0, -1.0, 1.25])
    assert [p.result for p in points] == ["pass", "pass", "pass", "fail", None]
    assert loop_verdict(points) == "fail"
    assert span_error_percent(20.0, 4.0) == pytest.approx(100.0)


def test_verdict_waits_for_every_point() -> None:
    points = loop_points(0.0, 200.0)
    assert loop_verdict(points) is None
    assert loop_verdict(judged_loop(points, (4.0, 8.0, 12.0, 16.0, None), 0.5)) is None
    assert loop_verdict(judged_loop(points, (4.0, 8.0, 12.0, 16.0, 20.0), 0.5)) == "pass"
    assert loop_verdict(()) is None


def test_volts_that_were_read_instead() -> None:
    assert current_from_voltage(3.0) == pytest.approx(12.0)
    assert current_from_voltage(1.2, 100.0) == pytest.approx(12.0)


def test_what_cannot_be() -> None:
    with pytest.raises(ValueError, match="differ"):
        loop_points(5.0, 5.0)
    with pytest.raises(ValueError, match="load"):
        loop_points(0.0, 5.0, load_ohm=0.0)
    with pytest.raises(ValueError, match="one reading a point"):
        judged_loop(loop_points(0.0, 5.0), (4.0,), 1.0)
