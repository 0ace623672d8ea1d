"""What a pass has found stands for what would be found again at each moment."""

from __future__ import annotations

import dataclasses
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from analysis.files.open import open_capture
from analysis.files.setup_find import find_setup
from analysis.files.setup_read import parse_setup
from analysis.rotor.known_turns import known_around
from analysis.rotor.turns import turns_around
from analysis.views.moment import answer_moment
from analysis.views.moment_request import MomentRequest
from analysis.views.timeline import answer_timeline

SAMPLE_DATA = Path(__file__).parents[2] / "sample_data"


@pytest.fixture(scope="module", params=["run_up.h5", "whirl.h5", "edge_of_range.h5"])
def run(request):
    capture = open_capture(SAMPLE_DATA / request.param)
    found = find_setup(capture)
    setup, _warnings = parse_setup(found.text, found.source)
    yield capture, setup, answer_timeline(capture, setup).table
    capture.close()


def moments(capture, count):
    return np.random.default_rng(8).uniform(capture.span.start_s, capture.span.end_s, count)


def test_the_same_revolutions(run):
    capture, setup, table = run
    known = 0
    for moment in moments(capture, 40):
        for count in (1, 8, 32):
            out_of_table = known_around(table, float(moment), count)
            if out_of_table is None:
                continue
            known += 1
            found = turns_around(capture, setup, float(moment), count)
            np.testing.assert_allclose(out_of_table.turns.start_s, found.start_s, atol=1e-9)
            np.testing.assert_allclose(out_of_table.turns.end_s, found.end_s, atol=1e-9)
            middle = (found.start_s + found.end_s) / 2.0
            turn = middle[len(middle) // 2 : len(middle) // 2 + 1] + 0.2 * np.diff(middle[:2]).sum()
            one, other = out_of_table.turns.angles[0], found.angles[0]
            since = one.turns_at(turn) - one.turns_at(found.start_s[:1])
            truth = other.turns_at(turn) - other.turns_at(found.start_s[:1])
            np.testing.assert_allclose(since, truth, atol=1e-7)
    assert known > 90  # of 120; the others are at the ends


def test_the_same_answer(run):
    capture, setup, table = run
    quicker = 0
    for moment in moments(capture, 12):
        request = MomentRequest(moment_s=float(moment), half_turns=6.0)
        truth = answer_moment(capture, setup, request)
        answer = answer_moment(capture, setup, request, table=table)
        quicker += known_around(table, float(moment), 32) is not None
        for probe, reading in truth.readings.probes.items():
            other = answer.readings.probes[probe]
            assert other.gap_um.value == pytest.approx(reading.gap_um.value, abs=1e-3)
            assert other.peak_to_peak_um.value == pytest.approx(
                reading.peak_to_peak_um.value, abs=1e-3
            )
            assert other.condition == reading.condition
            assert other.fault_fraction == reading.fault_fraction
            for name in ("min_um", "max_um", "margin_um"):
                assert getattr(other.linear_range, name) == pytest.approx(
                    getattr(reading.linear_range, name), abs=1e-3
                )
            assert other.linear_range.outside_fraction == reading.linear_range.outside_fraction
            for order, vector in reading.vectors.items():
                assert abs(other.vectors[order].vector - vector.vector) < 1e-3
        assert answer.readings.speed.mean_rpm == pytest.approx(truth.readings.speed.mean_rpm)
        assert answer.readings.notices == truth.readings.notices
        assert answer.span.start_s == pytest.approx(truth.span.start_s, abs=1e-9)
        np.testing.assert_allclose(answer.orbit.x, truth.orbit.x, atol=1e-3)
        np.testing.assert_allclose(
            answer.spectrum.amplitude_um, truth.spectrum.amplitude_um, atol=1e-3
        )
    assert quicker > 8


def test_a_table_that_cannot_stand_for_the_capture(run):
    capture, _setup, table = run
    middle = float(table.start_s[len(table) // 2])
    assert known_around(table, middle, 8) is not None
    assert known_around(table, capture.span.start_s, 8) is None
    assert known_around(table, capture.span.end_s, 8) is None
    assert known_around(replace(table, kind="blocks"), middle, 8) is None
    assert known_around(replace(table, notices=("one extra pulse",)), middle, 8) is None
    made = table.repaired.copy()
    made[len(table) // 2 + 3] = True
    assert known_around(replace(table, repaired=made), middle, 8) is None
    gap = table.start_s.copy()
    gap[len(table) // 2 + 3] += 0.1
    assert known_around(replace(table, start_s=gap), middle, 8) is None
    part = {
        field.name: getattr(table, field.name)[: len(table) // 2]
        for field in dataclasses.fields(table)
        if field.name not in ("kind", "probes", "notices")
    }
    assert known_around(replace(table, **part), middle, 8) is None


def test_orders_that_the_table_lacks_are_worked_out(run):
    capture, setup, table = run
    middle = float(table.start_s[len(table) // 2])
    request = MomentRequest(moment_s=middle, orders=(1, 3))
    answer = answer_moment(capture, setup, request, table=table)
    truth = answer_moment(capture, setup, request)
    for name, reading in truth.readings.probes.items():
        assert set(answer.readings.probes[name].vectors) == set(reading.vectors) == {1, 3}
