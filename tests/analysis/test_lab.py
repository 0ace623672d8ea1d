"""The Lab's picture of a state: against the recipe's own functions, closed forms and geometry."""

from __future__ import annotations

import cmath
import math
from dataclasses import replace

import numpy as np
import pytest

from analysis.simulate.lab import POINTS, TURNS, compose, shaft_motion
from analysis.simulate.lab_recipe import FIRST_EVENT_TURNS, recipe_of
from analysis.simulate.lab_state import LabProbe, LabState, Precession, SurfaceMark
from analysis.simulate.loops import loop_story
from analysis.simulate.recipe_parts import Preload, Stop
from analysis.simulate.scene import Scene
from analysis.simulate.truth import Truth
from tests.analysis.lab_states import bent_state, linear_state


def grid_times(state: LabState) -> np.ndarray:
    turns = np.arange(TURNS * POINTS + 1) / POINTS + FIRST_EVENT_TURNS
    return turns * 60.0 / state.speed_rpm


@pytest.mark.parametrize("maker", [linear_state, bent_state])
@pytest.mark.parametrize("seed", range(8))
def test_the_frame_is_the_recipe(maker, seed):
    state = maker(seed)
    scene, times = Scene(recipe_of(state)), grid_times(state)
    motion = scene.shafts["Lab"].vibration(times)
    np.testing.assert_allclose(shaft_motion(state), motion, rtol=0.0, atol=1e-7)
    result = compose(state)
    inside = maker is linear_state or seed % 4 != 3
    for probe in state.probes if inside else ():
        trace = result.waveforms[probe.name].trace
        gap = scene.gap_um(probe.name, times)[: len(trace.y)]
        np.testing.assert_allclose(trace.y, gap, rtol=0.0, atol=1e-7)


@pytest.mark.parametrize("seed", range(20))
def test_the_shafts_ellipse_is_that_of_the_recipe(seed):
    state = replace(linear_state(seed), whirl=None)
    whole = tuple(line for line in state.motions if line.order == round(line.order))
    state = replace(state, motions=whole)
    true = Truth(recipe_of(state)).ellipse("Lab", 1.0, 1.0)
    told = compose(state).shaft_ellipse
    assert told.major_um == pytest.approx(true.major_um, rel=1e-9)
    assert told.minor_um == pytest.approx(true.minor_um, rel=1e-9, abs=1e-9)
    assert told.precession == true.precession


@pytest.mark.parametrize("rotation", ["ccw", "cw"])
def test_forward_turns_with_the_rotation(rotation):
    state = LabState(motions=(Precession(1.0, 60.0, 30.0),), rotation=rotation)
    result = compose(state)
    assert result.seen_ellipse.precession == "forward"
    # A circle that points to 30° at the event, and a quarter turn on to 120° or to -60°.
    assert np.angle(shaft_motion(state)[0], deg=True) == pytest.approx(30.0)
    quarter = 120.0 if rotation == "ccw" else -60.0
    assert np.angle(shaft_motion(state)[POINTS // 4], deg=True) == pytest.approx(quarter)
    # The high spot reaches the probe at 45° right of the top when it points to 45° from +x.
    lag = 15.0 if rotation == "ccw" else 345.0
    vector = result.readings["LAB-X"].vectors[1]
    assert math.degrees(-cmath.phase(vector)) % 360.0 == pytest.approx(lag)
    line = result.spectrum
    assert line.frequency[int(np.argmax(line.amplitude_um))] == pytest.approx(1.0)
    assert line.amplitude_um.max() == pytest.approx(60.0, rel=1e-9)


def test_swapped_cables_and_a_wrong_rotation_turn_forward_into_backward():
    right = LabState(motions=(Precession(1.0, 60.0, 30.0, 12.0, 70.0),))
    assert compose(right).seen_ellipse.precession == "forward"
    swapped, renamed = (
        compose(replace(right, swapped=True)),
        compose(replace(right, rotation_wrong=True)),
    )
    assert swapped.seen_ellipse.precession == renamed.seen_ellipse.precession == "backward"
    assert swapped.shaft_ellipse.precession == renamed.shaft_ellipse.precession == "forward"
    # Probes at 45° right and left: the mirror stands upright.
    np.testing.assert_allclose(swapped.seen.x, -compose(right).seen.x, atol=1e-9)
    np.testing.assert_allclose(swapped.seen.y, compose(right).seen.y, atol=1e-9)
    np.testing.assert_allclose(renamed.seen.x, compose(right).seen.x, atol=1e-9)
    assert renamed.spectrum.frequency[
        int(np.argmax(renamed.spectrum.amplitude_um))
    ] == pytest.approx(-1.0)


@pytest.mark.parametrize("rotation", ["ccw", "cw"])
def test_the_arrows_add_up_to_the_orbit(rotation):
    state = LabState(motions=(Precession(1.0, 60.0, 30.0, 20.0, 70.0),), rotation=rotation)
    result = compose(state)
    for place in (0, 37, 200):
        for seen in (True, False):
            forward, backward = result.arrows(place / POINTS, seen=seen)
            tip = forward + backward
            path = result.seen if seen else result.shaft
            assert tip == pytest.approx(complex(path.x[place], path.y[place]), abs=1e-9)


def test_what_the_waveforms_and_marks_show():
    state = LabState(whirl=Precession(0.5, 40.0), speed_rpm=1500.0)
    result = compose(state)
    assert result.shown_turns == 4
    wave = result.waveforms["LAB-Y"]
    assert wave.trace.x[-1] == pytest.approx(4 * 0.04)
    np.testing.assert_allclose(wave.marks_s, np.arange(5) * 0.04)
    np.testing.assert_allclose(wave.marks_um, wave.trace.y[::POINTS])
    assert wave.mean_um == pytest.approx(1250.0)
    # Half of running speed: every second mark falls on the same place.
    assert len(result.seen.marks_x) == 4
    assert result.seen.marks_x[0] == pytest.approx(result.seen.marks_x[2])
    assert abs(result.seen.marks_x[0] - result.seen.marks_x[1]) > 1.0


def test_flattening_in_closed_form():
    # Linear: d' = (1 - f/2) d - (f/2) p² conj(d), so each circle takes a share of the other.
    f, at = 0.6, math.radians(-70.0)
    line = Precession(1.0, 60.0, 30.0, 20.0, 70.0)
    state = LabState(motions=(line,), preload=Preload(at_deg=-70.0, flatten=f))
    forward = cmath.rect(30.0, math.radians(30.0))
    backward = cmath.rect(10.0, math.radians(70.0))
    told = compose(state).shaft_ellipse
    turn = cmath.exp(2j * at) * f / 2.0
    assert told.forward == pytest.approx((1 - f / 2) * forward - turn * backward.conjugate())
    assert told.backward == pytest.approx((1 - f / 2) * backward - turn * forward.conjugate())


def test_bending_makes_a_second_order_in_closed_form():
    # Across the load 100 cos θ µm, bent by 4/mm: 4/1000 · 100²/2 (1 + cos 2θ) = 20 (1 + cos 2θ).
    lines = (Precession(1.0, 100.0, 0.0, 100.0, 0.0),)
    state = LabState(motions=lines, preload=Preload(at_deg=90.0, bend_per_mm=4.0))
    up = replace(state, probes=(LabProbe("UP", 0.0), LabProbe("SIDE", 90.0)))
    reading = compose(up).readings["UP"]
    assert reading.vectors[2] == pytest.approx(-40.0)
    assert reading.gap_um == pytest.approx(1250.0 + 20.0)
    assert compose(up).readings["SIDE"].vectors[1] == pytest.approx(200.0)


def test_a_stop_holds_on_one_side_alone():
    state = LabState(stop=Stop(at_deg=90.0, distance_um=12.0))
    motion = shaft_motion(state)
    assert motion.imag.max() == pytest.approx(12.0)
    assert motion.imag.min() == pytest.approx(-30.0, abs=1e-3)
    far = shaft_motion(replace(state, stop=Stop(at_deg=90.0, distance_um=31.0)))
    np.testing.assert_array_equal(far, shaft_motion(LabState()))
    # Friction at the top of a shaft that turns counter-clockwise pushes it to the right.
    for rotation, side in (("ccw", 1.0), ("cw", -1.0)):
        rubbing = LabState(stop=Stop(at_deg=90.0, distance_um=12.0, drag=0.5), rotation=rotation)
        free = shaft_motion(LabState(rotation=rotation))
        touching = free.imag > 12.0
        assert np.all(side * (shaft_motion(rubbing).real - free.real)[touching] > 0.0)


def test_a_scratch_passes_the_probes_one_after_the_other():
    surface = SurfaceMark(scratch_depth_um=30.0, scratch_at_deg=45.0, scratch_width_deg=20.0)
    for rotation, lag_y in (("ccw", 0.25), ("cw", 0.75)):
        state = LabState(motions=(), surface=surface, rotation=rotation)
        result = compose(state)
        deepest = {
            name: int(np.argmax(wave.trace.y[:POINTS])) / POINTS
            for name, wave in result.waveforms.items()
        }
        assert deepest == {"LAB-X": 0.0, "LAB-Y": lag_y}
        assert result.readings["LAB-X"].peak_to_peak_um == pytest.approx(30.0, rel=1e-3)


def crossings(path: np.ndarray) -> int:
    """How often a closed path crosses itself: all pairs of its pieces."""
    a, b = path, np.roll(path, -1)

    def side(p, q, r):
        return np.sign(((q - p).conj() * (r - p)).imag)

    p, q, r, s = a[:, None], b[:, None], a[None, :], b[None, :]
    hit = (side(p, q, r) * side(p, q, s) < 0) & (side(r, s, p) * side(r, s, q) < 0)
    n = len(path)
    apart = (np.arange(n)[None, :] - np.arange(n)[:, None]) % n
    return int(np.count_nonzero(hit & (apart > 1) & (apart < n - 1))) // 2


@pytest.mark.parametrize(("n", "against"), [(n, x) for n in (2, 3, 4, 5) for x in (False, True)])
def test_loops_of_a_whirl_are_the_crossings_of_its_orbit(n, against):
    # n - 1 inner loops forward, n + 1 outer ones backward (facts of geometry; Muszynska 2005).
    small = 1.15 * 100.0 / n
    whirl = Precession(1.0 / n, *((0.0, 0.0, 100.0, 0.0) if against else (100.0, 0.0)))
    lines = (Precession(1.0, small), whirl)
    story = loop_story(lines)
    assert (story.count, story.side) == ((n + 1, "outer") if against else (n - 1, "inner"))
    assert story.closes_after == story.marks == n
    theta = np.arange(900) * (2.0 * np.pi * n / 900)
    sense = -1.0 if against else 1.0
    path = small * np.exp(1j * (theta + 0.0123)) + 100.0 * np.exp(1j * sense * theta / n)
    assert crossings(path) == story.count
    slower = loop_story((Precession(1.0, 0.9 * 100.0 / n), whirl))
    assert slower.count is None
    assert "bulges" in slower.sentence


@pytest.mark.parametrize(
    ("lines", "count", "side", "closes"),
    [
        ((Precession(1.0, 60.0), Precession(2.0, 45.0)), 1, "inner", 1),
        ((Precession(1.0, 60.0), Precession(2.0, 0.0, 0.0, 45.0)), 3, "outer", 1),
        ((Precession(1.0, 60.0), Precession(2.0 / 3.0, 60.0)), 1, "inner", 3),
        ((Precession(1.0, 60.0), Precession(0.46, 60.0)), 1, "inner", None),
        ((Precession(1.0, 60.0),), None, None, 1),
        ((), None, None, 1),
    ],
)
def test_other_loops(lines, count, side, closes):
    story = loop_story(lines)
    assert (story.count, story.side, story.closes_after) == (count, side, closes)
    assert story.sentence.endswith(".")
    if closes is None:
        assert "wander" in story.sentence


def test_a_count_of_two_circles_does_not_speak_for_a_third():
    two = (Precession(1.0, 60.0), Precession(3.0, 0.0, 0.0, 25.0))
    assert "alone" not in loop_story(two).sentence
    third = loop_story((*two, Precession(0.25, 20.0)))
    assert (third.count, third.closes_after) == (4, 4)
    assert "these two alone: 0.25X bends the orbit further" in third.sentence
    # What is too small to be seen is not told of.
    assert loop_story((*two, Precession(2.0, 1.0))).sentence == loop_story(two).sentence


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"motions": (Precession(0.3, 10.0),)}, "order 0.3"),
        ({"whirl": Precession(1.0, 10.0)}, "between 0 and 1"),
        ({"motions": (Precession(1.0, -1.0),)}, "amplitudes"),
        ({"motions": (Precession(1.0, 1.0, math.nan),)}, "finite"),
        ({"speed_rpm": 0.0}, "speeds"),
        ({"speed_rpm": math.nan}, "speeds"),
        ({"noise_um_rms": -1.0}, "noise"),
        ({"probes": (LabProbe("A", 45.0), LabProbe("B", -130.0))}, "parallel"),
        ({"probes": (LabProbe("A", 45.0), LabProbe("A", -45.0))}, "differ"),
        ({"probes": (LabProbe("A", 45.0, -1.0), LabProbe("B", -45.0))}, "gaps"),
        ({"surface": SurfaceMark(scratch_width_deg=0.0)}, "scratch"),
    ],
)
def test_what_cannot_be_is_refused(change, told):
    with pytest.raises(ValueError, match=told):
        LabState(**change)
