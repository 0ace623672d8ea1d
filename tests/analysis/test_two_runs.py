"""A second run of another kind laid over the first: other speeds, probes, slow roll, setup."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.model.response_results import ResponseResult, ResponseTable
from analysis.model.setup import Setup
from analysis.rotor.vectors import vector_from
from analysis.views.response import (
    ResponseRequest,
    SlowRollChoice,
    answer_table_response,
)
from analysis.views.run import RunRequest, answer_run
from analysis.views.two_runs import OtherRun, compare_runs, response_of_other
from tests.analysis.runs import jeffcott, points, turn_times

NATURAL = 2400.0


def setup_of(rotation: str = "ccw", angle: float = 45.0, edge: str = "falling") -> Setup:
    probe = {"name": "X", "scale_factor_mv_per_um": 7.874, "angle_deg": angle}
    return Setup.model_validate(
        {
            "version": 1,
            "machine": {"rotation": rotation, "operating_rpm": [4700, 5300]},
            "phase_reference": {"channel": "REF", "edge": edge},
            "probe": [probe, {**probe, "name": "Y", "angle_deg": -45.0}],
        }
    )


def table_of(
    *names: str,
    slow: complex = 0.0,
    ends: tuple[float, float] = (400.0, 5300.0),
    every: int = 1,
    timed: bool = True,
    turn_deg: float = 0.0,
) -> ResponseTable:
    """Vectors of one mode with its runout, turn by turn or some of them."""
    times, rpm = turn_times(*ends, 80.0)
    vectors = slow + 10.0 * jeffcott(rpm, NATURAL, 0.05) * np.exp(-1j * np.radians(turn_deg))
    seen = points(times[::every], rpm[::every], vectors[::every], noise_um=0.1)
    shown = seen.time_s if timed else np.full(len(seen.time_s), np.nan)
    return ResponseTable("t", shown, seen.speed_rpm, {name: {1: seen.vectors} for name in names})


def both(other: ResponseTable, now: ResponseTable) -> tuple[ResponseResult, ResponseResult]:
    laid = OtherRun("last.csv", other, None, own_setup=False)
    return response_of_other(laid, take_off=True), answer_table_response(now)


def test_each_run_has_its_own_slow_roll_taken_off() -> None:
    # Other runout, other speeds, a sixth of the turns: the mode itself is the same.
    other = table_of("X", slow=vector_from(14.0, 200.0), ends=(3900.0, 400.0), every=6)
    before, now = both(other, table_of("X", slow=vector_from(5.0, 20.0)))
    two = compare_runs(OtherRun("last.csv", other, None, own_setup=False), before, now, None)
    laid = two.overlays["X"]
    assert laid.speed_rpm[-1] == pytest.approx(3900.0, rel=0.01)
    # At the lowest speeds, where slow roll is taken, the mode has 0.3 µm p-p of its own already.
    assert np.abs(laid.difference).max() < 1.5
    assert [doubt.flag for doubt in laid.doubts] == ["directions-differ"]
    raw = response_of_other(OtherRun("last.csv", other, None), take_off=False)
    two = compare_runs(OtherRun("last.csv", other, None), raw, now, None)
    assert "slow-roll-differs" in [doubt.flag for doubt in two.overlays["X"].doubts]


def test_another_order_is_compared_for_itself() -> None:
    # The second order of the other run is turned by 90° and half as large again; the first is not.
    first = table_of("X")
    second = 0.5 * first.vectors["X"][1]
    now = replace(first, vectors={"X": {1: first.vectors["X"][1], 2: second}})
    other = replace(first, vectors={"X": {1: first.vectors["X"][1], 2: 1.5j * second}})
    laid = OtherRun("last.csv", other, None, own_setup=False)
    for order, ratio in ((1, 0.0), (2, abs(1.0 - 1.5j))):
        request = ResponseRequest(order, slow_roll=SlowRollChoice(take_off=False))
        here = answer_table_response(now, request=request)
        there = response_of_other(laid, take_off=False, order=order)
        found = compare_runs(laid, there, here, None).overlays["X"]
        size = np.abs(found.second).max()
        assert np.abs(found.difference).max() / size == pytest.approx(ratio, abs=0.01)


def test_rows_without_times_and_order_have_no_known_direction() -> None:
    whole = table_of("X", timed=False, every=7)
    mixed = np.random.default_rng(2).permutation(len(whole.speed_rpm))
    vectors = {"X": {1: whole.vectors["X"][1][mixed]}}
    other = ResponseTable("t", whole.time_s, whole.speed_rpm[mixed], vectors)
    laid = OtherRun("last.csv", other, None, own_setup=False)
    now = answer_table_response(
        table_of("X"), request=ResponseRequest(slow_roll=SlowRollChoice(take_off=False))
    )
    two = compare_runs(laid, response_of_other(laid, take_off=False), now, None)
    assert [doubt.flag for doubt in two.overlays["X"].doubts] == ["direction-unknown"]
    assert np.abs(two.overlays["X"].difference).max() < 1.0


def test_other_probes_and_no_common_speeds_are_told() -> None:
    other = table_of("X", "Z", ends=(400.0, 900.0))
    before, now = both(other, table_of("X", "Y", ends=(1500.0, 5300.0)))
    two = compare_runs(OtherRun("last.csv", other, None, own_setup=False), before, now, None)
    assert not two.overlays
    said = " ".join(doubt.sentence for doubt in two.doubts)
    assert "no vectors of Y in last.csv" in said
    assert "no vectors of Z in this run" in said
    assert "X: the two runs have no passage through the same speeds" in said


@pytest.mark.parametrize(
    ("setup", "flag"),
    [
        (setup_of(rotation="cw"), "rotation-differs"),
        (setup_of(angle=-30.0), "probe-angle-differs"),
        (setup_of(edge="rising"), "phase-reference-differs"),
        (setup_of(), None),
    ],
)
def test_unlike_setups_are_told(setup: Setup, flag: str | None) -> None:
    other = table_of("X")
    before, now = both(other, table_of("X"))
    two = compare_runs(OtherRun("last.csv", other, setup), before, now, setup_of())
    flags = [doubt.flag for doubt in (*two.doubts, *two.overlays["X"].doubts)]
    assert flags == ([flag] if flag else [])


def test_lags_of_the_other_run_lie_near_those_of_this_one() -> None:
    # 350° more of lag is 10° less: drawn a turn away nobody would see how near the two are.
    now = answer_run(table_of("X", turn_deg=355.0), None, RunRequest())
    other = answer_run(table_of("X", turn_deg=5.0), None, RunRequest(), now)
    at = [float(np.nanmedian(each.traces["X"][0].lag_deg)) for each in (now, other)]
    assert abs(at[0] - at[1]) < 20.0
