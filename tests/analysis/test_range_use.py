"""Margins, stretches outside and forecasts, against gaps in closed form."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.model.position_results import RangeUse
from analysis.model.results import ProbeRevolutions, RevolutionTable
from analysis.model.setup import Probe
from analysis.model.span import TimeSpan
from analysis.rotor.position import gap_extremes
from analysis.rotor.range_use import (
    forecast,
    range_use,
    rows_around,
    rows_inside,
    with_fraction,
)
from analysis.rotor.revolutions import revolution_table
from tests.analysis.position_captures import capture_with, setup_with, sine

PROBE = Probe(
    name="X", angle_deg=45.0, scale_factor_mv_per_um=7.874, linear_range_um=(250.0, 2280.0)
)


def table_with(
    mean: list[float], low: list[float], high: list[float], turn_s: float = 0.1
) -> RevolutionTable:
    """A table of turns of equal length with these gaps."""
    rows = len(mean)
    edges = turn_s * np.arange(rows + 1)
    column = ProbeRevolutions(
        gap_v=np.array(mean) * -0.007874,
        gap_um=np.array(mean),
        min_um=np.array(low),
        max_um=np.array(high),
        vectors={},
        samples=np.full(rows, 100),
        fault=np.isnan(mean),
    )
    speed = np.full(rows, 60.0 / turn_s)
    return RevolutionTable(
        "events", edges[:-1], edges[1:], speed, np.zeros(rows, dtype=bool), {"X": column}
    )


def use_of(*args: object) -> RangeUse:
    use = range_use(*args)  # type: ignore[arg-type]
    assert use is not None
    return use


def test_margins_to_both_ends_in_um_and_as_shares() -> None:
    use = use_of(table_with([1200, 1300, 1250], [1150, 1240, 1200], [1260, 1400, 1300]), PROBE)
    assert (use.min_um, use.max_um, use.mean_um) == (1150.0, 1400.0, 1250.0)
    assert (use.near_margin_um, use.far_margin_um) == (900.0, 880.0)
    assert use.near_share == pytest.approx(900.0 / 2030.0)
    assert use.far_share == pytest.approx(880.0 / 2030.0)
    assert (use.margin_um, use.nearer_end) == (880.0, "far")
    assert use.peak_to_peak_um == pytest.approx((110.0 + 160.0 + 100.0) / 3.0)
    assert use.peak_to_peak_max_um == 160.0
    assert (use.min_at_s, use.max_at_s) == (pytest.approx(0.05), pytest.approx(0.15))
    assert (use.outside_turns, use.outside_s, use.stretches) == (0, 0.0, ())
    assert use.outside_fraction == 0.0


def test_stretches_outside() -> None:
    """Turns 2, 3 and 5 beyond the far end, 12 beyond the near end, mean gap and all."""
    mean, low, high = [2200.0] * 14, [2150.0] * 14, [2250.0] * 14
    high[2], high[3], high[5] = 2281.0, 2290.0, 2285.0
    mean[12], low[12], high[12] = 240.0, 200.0, 280.0
    use = use_of(table_with(mean, low, high), PROBE)
    assert use.outside_turns == 4
    assert use.outside_s == pytest.approx(0.4)
    far, near = use.stretches
    # One turn back inside is no end of a stretch.
    assert (far.end, far.turns, far.beyond_um, far.mean_outside) == ("far", 3, 10.0, False)
    assert (far.span.start_s, far.span.end_s) == (pytest.approx(0.2), pytest.approx(0.6))
    assert far.worst_s == pytest.approx(0.35)
    assert (near.end, near.turns, near.beyond_um, near.mean_outside) == ("near", 1, 50.0, True)
    assert use.margin_um == -50.0
    assert use.nearer_end == "near"
    assert use.outside_fraction is None


def test_void_turns_count_as_nothing_but_themselves() -> None:
    nan = np.nan
    use = use_of(table_with([nan, 1200, nan], [nan, 1150, nan], [nan, 1250, nan]), PROBE)
    assert (use.turns, use.void_turns) == (1, 2)
    assert (use.span.start_s, use.span.end_s) == (pytest.approx(0.1), pytest.approx(0.2))
    assert range_use(table_with([nan], [nan], [nan]), PROBE) is None


def test_without_a_linear_range_there_are_no_margins() -> None:
    bare = PROBE.model_copy(update={"linear_range_um": None})
    use = use_of(table_with([1200], [1150], [1250]), bare)
    assert (use.near_margin_um, use.far_margin_um, use.margin_um, use.nearer_end) == (None,) * 4
    assert forecast(use, bare, ()) is None


def test_forecast() -> None:
    """Mean 2000, up 70, down 30: 210 µm of room, and 2.8 times 280 up before the far end cuts."""
    use = use_of(table_with([2000], [1970], [2070]), PROBE)
    ahead = forecast(use, PROBE, (("alarm", 390.0), ("trip", 410.0)))
    assert ahead is not None
    assert (ahead.rise_um, ahead.fall_um, ahead.cut_end) == (210.0, 1720.0, "far")
    assert ahead.cut_peak_to_peak_um == pytest.approx(100.0 * 280.0 / 70.0)
    assert ahead.beyond_cut == (("trip", 410.0),)
    # Moved to where the forecast says, both ends have the same room.
    moved = ahead.centred_um
    assert 2280.0 - (moved + 70.0) == pytest.approx((moved - 30.0) - 250.0)


def test_forecast_of_a_waveform_as_large_as_it_says_touches_the_end() -> None:
    capture = capture_with({"X": sine(2150.0, 80.0)}, 1.0, noise_um=0.0)
    setup = setup_with({"name": "X"})
    use = use_of(revolution_table(capture, setup, capture.span), setup.probe[0])
    ahead = forecast(use, setup.probe[0], ())
    assert ahead is not None
    assert ahead.cut_peak_to_peak_um is not None
    assert ahead.rise_um == pytest.approx(2280.0 - 2190.0, abs=0.15)
    grown = capture_with({"X": sine(2150.0, ahead.cut_peak_to_peak_um)}, 1.0, noise_um=0.0)
    risen = capture_with({"X": sine(2150.0 + ahead.rise_um, 80.0)}, 1.0, noise_um=0.0)
    for made in (grown, risen):
        reached = use_of(revolution_table(made, setup, made.span), setup.probe[0])
        assert reached.far_margin_um == pytest.approx(0.0, abs=0.3)


def test_forecast_with_the_mean_outside() -> None:
    use = use_of(table_with([2300], [2250], [2350]), PROBE)
    ahead = forecast(use, PROBE, (("alarm", 95.0),))
    assert ahead is not None
    assert (ahead.rise_um, ahead.cut_peak_to_peak_um) == (-70.0, None)
    assert ahead.beyond_cut == (("alarm", 95.0),)


@pytest.mark.parametrize("mean_um", [2270.0, 2200.0, 300.0])
def test_fraction_outside_is_that_of_a_sine(mean_um: float) -> None:
    """A sine of amplitude A about m is beyond h for acos((h - m)/A)/π of the time."""
    capture = capture_with({"X": sine(mean_um, 120.0)}, 3.0, noise_um=0.0)
    setup = setup_with({"name": "X"})
    table = revolution_table(capture, setup, capture.span)
    probe = setup.probe[0]
    use = with_fraction(use_of(table, probe), table, probe, capture.channels["X"])
    beyond = (2280.0 - mean_um) / 60.0 if mean_um > 1000.0 else (mean_um - 250.0) / 60.0
    wanted = float(np.arccos(min(beyond, 1.0))) / np.pi
    assert use.outside_fraction == pytest.approx(wanted, abs=0.003)
    assert use.fraction_from == (pytest.approx(1.0, abs=0.02) if wanted else 1.0)
    # The same as over all samples of the span.
    all_of_it = gap_extremes(capture.channels["X"], probe, use.span).linear_range
    assert all_of_it is not None
    assert use.outside_fraction == pytest.approx(all_of_it.outside_fraction, abs=1e-4)
    assert use.margin_um == pytest.approx(all_of_it.margin_um, abs=1e-9)


def test_fraction_of_a_long_capture_stands_for_all_of_it() -> None:
    """240 s outside throughout, with a share that grows: pieces of it give the mean share."""
    capture = capture_with(
        {"X": lambda t, theta: 2250.0 + t / 10.0 + 60.0 * np.cos(theta)}, 240.0, noise_um=0.0
    )
    setup = setup_with({"name": "X"})
    table = revolution_table(capture, setup, capture.span, orders=())
    probe = setup.probe[0]
    use = with_fraction(use_of(table, probe), table, probe, capture.channels["X"])
    everything = gap_extremes(capture.channels["X"], probe, capture.span).linear_range
    assert everything is not None
    assert use.fraction_from is not None
    assert use.fraction_from < 0.1
    assert use.outside_fraction == pytest.approx(everything.outside_fraction, abs=0.01)


def test_rows_of_a_span_and_of_a_moment() -> None:
    table = table_with([1.0] * 10, [1.0] * 10, [1.0] * 10)
    assert rows_inside(table, TimeSpan(0.15, 0.55)) == slice(2, 5)
    assert rows_inside(table, TimeSpan(0.2, 0.5)) == slice(2, 5)
    empty = rows_inside(table, TimeSpan(0.21, 0.25))
    assert empty.stop == empty.start
    assert rows_around(table, 0.5, 4) == slice(3, 7)
    assert rows_around(table, -9.0, 4) == slice(0, 4)
    assert rows_around(table, 9.0, 4) == slice(6, 10)
    assert rows_around(table, 0.5, 40) == slice(0, 10)
