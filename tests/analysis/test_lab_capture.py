"""What the Lab says of a state, and what the program measures on the state's saved capture."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.model.results import ProbeReading, SpanReadings
from analysis.rotor.vectors import amplitude_and_lag
from analysis.simulate.lab import TURNS, compose
from analysis.simulate.lab_readings import LabReading
from analysis.simulate.lab_recipe import recipe_of
from analysis.simulate.lab_state import LINEAR_RANGE_UM, LabState, Precession
from analysis.simulate.lab_truth import exact_readings
from analysis.simulate.synthesis import simulate
from analysis.views.moment import answer_moment
from analysis.views.moment_request import MomentRequest
from tests.analysis.lab_states import bent_state, lag_apart, linear_state, measured

SAMPLES_PER_TURN = 256.0
"""The fewest that a capture of the Lab has."""


def check_vectors(found: ProbeReading, told: LabReading, share: float, degrees: float) -> None:
    amplitude, lag = amplitude_and_lag(told.vectors[1])
    first = found.vectors[1]
    assert first.phase_lag_deg is not None
    assert first.amplitude.value == pytest.approx(amplitude, rel=share)
    assert lag_apart(first.phase_lag_deg.value, lag) < degrees
    # 2X may be nothing at all: what counts is how far the vectors are apart.
    apart = abs(found.vectors[2].vector - told.vectors[2])
    assert apart < 0.001 * told.peak_to_peak_um


def check_extremes(found: ProbeReading, told: LabReading, fastest_um: float) -> None:
    # The highest sample of a turn misses a smooth top by next to nothing, but a turn may also end
    # on a slope, up to one sample before the event.
    one_sample = 2.0 * np.pi * fastest_um / SAMPLES_PER_TURN
    assert found.peak_to_peak_um is not None
    assert found.linear_range is not None
    assert found.peak_to_peak_um.value == pytest.approx(told.peak_to_peak_um, abs=one_sample)
    assert found.peak_to_peak_um.value < told.peak_to_peak_um * 1.0005 + 0.01
    assert found.linear_range.margin_um == pytest.approx(told.margin_um, abs=one_sample)


def check_orbit(found: SpanReadings, state: LabState) -> None:
    orbit, told = found.planes["Lab"].orbits[1], compose(state).seen_ellipse
    assert orbit.forward == pytest.approx(told.forward, abs=0.001 * told.major_um)
    assert orbit.backward == pytest.approx(told.backward, abs=0.001 * told.major_um)
    assert orbit.precession == told.precession


def fastest(state: LabState) -> float:
    """A bound of the tip speed, µm a radian of shaft angle."""
    lines = sum(x.order * (x.forward_um_pp + x.backward_um_pp) / 2.0 for x in state.lines)
    return lines + state.surface.um_pp


@pytest.mark.parametrize("seed", range(100))
def test_lab_and_program_agree_where_all_is_linear(seed, tmp_path):
    # Bounds of 1X: what the project promises, 0.1 % and 0.1°.
    state = linear_state(seed)
    found, told = measured(state, tmp_path), compose(state)
    assert found.speed.revolutions == TURNS
    assert found.speed.mean_rpm == pytest.approx(state.speed_rpm, rel=1e-5)
    for name, reading in told.readings.items():
        probe = found.probes[name]
        check_vectors(probe, reading, 0.001, 0.1)
        check_extremes(probe, reading, fastest(state))
        assert probe.gap_um is not None
        assert probe.gap_um.value == pytest.approx(reading.gap_um, abs=0.01)
    check_orbit(found, state)


@pytest.mark.parametrize("seed", range(40))
def test_lab_and_program_agree_on_bent_orbits(seed, tmp_path):
    state = bent_state(seed)
    found, told = measured(state, tmp_path), compose(state)
    for name, reading in told.readings.items():
        probe = found.probes[name]
        check_vectors(probe, reading, 0.001, 0.1)
        # A rebound, a bend and a scratch make the tip faster.
        check_extremes(probe, reading, 2.5 * fastest(state) + 15.0)
        assert probe.gap_um is not None
        assert probe.gap_um.value == pytest.approx(reading.gap_um, abs=0.02)
    check_orbit(found, state)


@pytest.mark.parametrize("maker", [linear_state, bent_state])
@pytest.mark.parametrize("seed", range(12))
def test_the_grid_of_a_frame_is_fine_enough(maker, seed):
    # The same definitions, on the recipe's own functions and eight times as many points.
    state = maker(seed)
    exact = exact_readings(state, TURNS)
    for name, told in compose(state).readings.items():
        truth = exact[name]
        assert told.gap_um == pytest.approx(truth.gap_um, abs=0.002)
        assert told.peak_to_peak_um == pytest.approx(truth.peak_to_peak_um, rel=0.003)
        assert told.margin_um == pytest.approx(truth.margin_um, abs=0.2)
        for order in (1, 2):
            apart = abs(told.vectors[order] - truth.vectors[order])
            assert apart < 0.0003 * truth.peak_to_peak_um


@pytest.mark.parametrize("seed", range(10))
def test_the_moment_page_draws_what_the_lab_draws(seed):
    state = linear_state(seed)
    turn_s = 60.0 / state.speed_rpm
    recipe = recipe_of(state, duration_s=(TURNS + 1.0) * turn_s)
    request = MomentRequest(moment_s=(TURNS / 2.0 + 0.5) * turn_s, half_turns=TURNS / 2.0)
    page, told = answer_moment(simulate(recipe), recipe.setup, request), compose(state)
    assert page.spectrum is not None
    assert page.orbit is not None
    # The same turns, window and scaling: line by line, up to 8X.
    for order in np.arange(-8.0, 8.0, 1.0 / TURNS):
        (there,), (here,) = (
            s.amplitude_um[np.isclose(s.frequency, order)] for s in (page.spectrum, told.spectrum)
        )
        assert there == pytest.approx(here, rel=0.002, abs=0.02)
    # The Moment page counts from the mean of the samples, so the path may lie off by a little, and
    # puts its very first mark on the first sample after the event.
    marks = page.orbit.marks_x + 1j * page.orbit.marks_y
    ours = (told.seen.marks_x + 1j * told.seen.marks_y)[: told.shown_turns]
    assert np.abs(marks[1 : told.shown_turns] - ours[1:]).max() < 0.1
    assert page.orbit.precession == told.seen.precession


def test_noise_spreads_readings_about_what_is_told(tmp_path):
    rms = 1.5
    state = LabState(motions=(Precession(1.0, 60.0, 20.0, 15.0, 80.0),), noise_um_rms=rms)
    found, told = measured(state, tmp_path), compose(state)
    samples = TURNS * SAMPLES_PER_TURN
    for name, reading in told.readings.items():
        probe = found.probes[name]
        # Standard deviation of a p-p amplitude in white noise: 2σ sqrt(2/N) (Cramér-Rao; Kay 1993,
        # from memory). Five of them.
        bound = 5.0 * 2.0 * rms * np.sqrt(2.0 / samples)
        assert abs(probe.vectors[1].vector - reading.vectors[1]) < bound
        assert abs(probe.gap_um.value - reading.gap_um) < 5.0 * rms / np.sqrt(samples)
        # Noise can but add to p-p in every turn; the most extreme of so many samples is below 6σ.
        more = probe.peak_to_peak_um.value - reading.peak_to_peak_um
        assert 0.5 * rms < more < 12.0 * rms


def test_a_probe_past_the_end_of_its_range_reads_too_little(tmp_path):
    state = LabState(motions=(Precession(1.0, 100.0),))
    first, second = state.probes
    near_end = type(first)("LAB-X", 45.0, LINEAR_RANGE_UM[1] + 60.0)
    state = LabState(motions=state.motions, probes=(near_end, second))
    found, told = measured(state, tmp_path), compose(state)
    assert any("LAB-X leaves its linear range" in note for note in told.notes)
    seen = found.probes["LAB-X"]
    assert seen.vectors[1].amplitude.value < 80.0 < 100.0
    assert found.probes["LAB-Y"].vectors[1].amplitude.value == pytest.approx(100.0, rel=0.001)
    assert seen.linear_range.margin_um == pytest.approx(told.readings["LAB-X"].margin_um, abs=0.1)
    assert seen.linear_range.margin_um < 0.0
