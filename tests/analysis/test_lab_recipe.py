"""States and rotors as recipes: saved, read back, and what is new in recipes."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from analysis.files.open import open_capture
from analysis.files.setup_read import parse_setup
from analysis.files.setup_write import setup_to_toml
from analysis.model.errors import InputError
from analysis.model.setup import Limit
from analysis.simulate.lab import compose
from analysis.simulate.lab_recipe import recipe_of
from analysis.simulate.lab_reopen import state_of
from analysis.simulate.lab_state import LabProbe, LabState, Precession, SurfaceMark
from analysis.simulate.recipe import Recipe, parse_recipe, read_recipe
from analysis.simulate.recipe_parts import Preload, Scratch, Stop
from analysis.simulate.recipe_write import recipe_to_toml, write_recipe
from analysis.simulate.scratch import scratch_um, scratch_vector
from analysis.simulate.synthesis import simulate
from analysis.simulate.truth import Truth
from analysis.views.readings import read_span
from app.cli.main import main
from tests.analysis.lab_states import bent_state, linear_state
from tests.analysis.test_simulate_recipe import GOOD

SAMPLES = sorted((Path(__file__).parents[2] / "sample_data/recipes").glob("*.toml"))

EVERYTHING = LabState(
    motions=(Precession(1.0, 60.0, 30.0, 12.0, 70.0), Precession(0.25, 5.0)),
    whirl=Precession(0.46, 30.0),
    asymmetry_um_pp=9.0,
    preload=Preload(at_deg=-90.0, flatten=0.2, bend_per_mm=2.0),
    stop=Stop(at_deg=10.0, distance_um=30.0, rebound=0.4, drag=0.2),
    surface=SurfaceMark(6.0, 10.0, 20.0, 30.0, 15.0),
    noise_um_rms=0.4,
    probes=(LabProbe("A-X", 50.0, 1100.0), LabProbe("A-Y", -40.0, 2300.0)),
    swapped=True,
    rotation="cw",
    rotation_wrong=True,
    title='Quotes " and \\ back\nlines: µm',
)


@pytest.mark.parametrize("seed", range(6))
def test_states_come_back_from_a_file(seed, tmp_path):
    for state in (linear_state(seed), bent_state(seed), EVERYTHING):
        recipe = recipe_of(state)
        write_recipe(tmp_path / "state.toml", recipe)
        assert read_recipe(tmp_path / "state.toml") == recipe


@pytest.mark.parametrize("seed", range(8))
def test_a_saved_state_opens_in_the_lab_again(seed):
    for state in (linear_state(seed), bent_state(seed), EVERYTHING, LabState(motions=())):
        again = state_of(parse_recipe(recipe_to_toml(recipe_of(state)), "saved.toml"))
        one, other = compose(state), compose(again)
        np.testing.assert_allclose(other.seen.x, one.seen.x, atol=1e-6)
        np.testing.assert_allclose(other.seen.y, one.seen.y, atol=1e-6)
        assert other.notes == one.notes
        assert (again.title, again.seed, again.speed_rpm) == (
            state.title,
            state.seed,
            state.speed_rpm,
        )


def test_what_the_lab_cannot_show_is_refused():
    for path in SAMPLES:
        with pytest.raises(ValueError, match="recipe"):
            state_of(read_recipe(path))
    content = recipe_of(LabState()).model_dump()
    content["plane"][0]["moved_x_um"] = ((0.0, 5.0),)
    with pytest.raises(ValueError, match="more than the Lab"):
        state_of(Recipe.model_validate(content))


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_every_recipe_can_be_written_again(path):
    recipe = read_recipe(path)
    assert parse_recipe(recipe_to_toml(recipe), "again.toml") == recipe


def test_the_command_makes_the_same_capture(tmp_path):
    recipe, out = tmp_path / "state.toml", tmp_path / "state.h5"
    write_recipe(recipe, recipe_of(EVERYTHING, duration_s=0.5))
    assert main(["simulate", str(recipe), "--out", str(out)]) == 0
    made, opened = simulate(recipe_of(EVERYTHING, duration_s=0.5)), open_capture(out)
    for name, channel in made.channels.items():
        kept = opened.channels[name]
        np.testing.assert_array_equal(kept.volts(0, len(kept)), channel.volts(0, len(channel)))
    opened.close()


def test_the_setup_of_a_state_is_a_good_one():
    limit = Limit(probes=("LAB-X",), measure="peak_to_peak", level="alarm", above=90.0)
    recipe = recipe_of(LabState(), limits=(limit,))
    setup, warnings = parse_setup(setup_to_toml(recipe.setup), "lab")
    assert warnings == ()
    assert setup == recipe.setup
    assert setup.limit == (limit,)


def test_the_first_event_comes_half_a_turn_after_the_start():
    state = replace(EVERYTHING, speed_rpm=1500.0)
    truth = Truth(recipe_of(state))
    assert truth.turns(0.0) == pytest.approx(-0.5)
    assert truth.turns(0.02) == pytest.approx(0.0)


@pytest.mark.parametrize(
    ("lag", "width"), [(30.0, 20.0), (200.0, 90.0), (0.0, 360.0), (77.0, 180.0)]
)
def test_a_scratch_has_its_vectors_in_closed_form(lag, width):
    scratch = Scratch(lag_deg=lag, depth_um=25.0, width_deg=width)
    points = 200_000
    turns = np.arange(points) / points
    wave = -scratch_um(scratch, turns)  # displacement: away from the probe
    for order in (1, 2, 3, 5):
        told = 4.0 * np.mean(wave * np.exp(-2j * np.pi * order * turns))
        assert scratch_vector(scratch, order) == pytest.approx(complex(told), abs=1e-6)
    assert scratch_vector(scratch, 0.5) == 0.0
    assert wave.min() == pytest.approx(-25.0, abs=1e-6)


def test_truth_of_a_scratched_probe_elsewhere_than_its_setup_says(tmp_path):
    # What the probe looks at decides, not what the setup says of it.
    text = GOOD.replace(
        "sample_rate_hz = 1000",
        "sample_rate_hz = 8000\ntype = 'float32'\n"
        "true_angle_deg = 90\nscratch = [{ lag_deg = 40, depth_um = 12, width_deg = 40 }]",
    )
    text = text.replace(
        "[setup]\nversion = 1",
        "[reference]\nsample_rate_hz = 8000\n[setup]\n"
        "version = 1\n[setup.phase_reference]\nchannel = 'REF'",
    ).replace("1500", "1503")
    recipe = parse_recipe(text, "true.toml")
    capture = simulate(recipe)
    found = read_span(capture, recipe.setup, capture.span).probes["A"].vectors[1]
    truth = Truth(recipe).vector("A", 1.0, 0.5)
    # A circle of 20 µm p-p that points to +x at the event, seen from +x: lag 0, and the scratch.
    bare = scratch_vector(recipe.channel[0].scratch[0], 1)
    assert truth == pytest.approx(20.0 + bare)
    assert found.vector == pytest.approx(truth, abs=0.03)


def test_a_response_table_is_the_unbalance_that_it_was_taken_from():
    from analysis.simulate.recipe_parts import PlaneMotion, Speed, Unbalance
    from analysis.simulate.shaft import ShaftInPlane
    from analysis.simulate.speed import ShaftSpeed

    unbalance = Unbalance(offset_um=8.0, natural_rpm=(3000.0, 3200.0), damping_ratio=(0.07, 0.08))
    speed = ShaftSpeed(Speed(points=((0.0, 1000.0), (10.0, 5000.0))))
    plane = recipe_of(LabState()).setup.plane[0]
    for rotation in ("ccw", "cw"):
        shaft = ShaftInPlane(PlaneMotion(name="P", unbalance=(unbalance,)), plane, rotation, speed)
        times = np.linspace(0.0, 10.0, 4001)
        (exact,) = shaft.circles(times, 1.0)
        rows = [
            (float(rpm), f.real, f.imag, b.real, b.imag)
            for rpm, f, b in zip(
                speed.rpm(times)[::10], exact.forward[::10], exact.backward[::10], strict=True
            )
        ]
        motion = PlaneMotion.model_validate({"name": "P", "response": [{"table": tuple(rows)}]})
        tabled = ShaftInPlane(motion, plane, rotation, speed)
        apart = np.abs(tabled.vibration(times) - shaft.vibration(times))
        assert apart.max() < 0.005 * np.abs(exact.forward).max()


def test_no_closed_form_is_claimed_under_a_constraint():
    truth = Truth(recipe_of(LabState(stop=Stop(at_deg=0.0, distance_um=10.0))))
    for ask in (lambda: truth.vector("LAB-X", 1.0, 0.5), lambda: truth.ellipse("Lab", 1.0, 0.5)):
        with pytest.raises(ValueError, match="closed form"):
            ask()


def test_true_rotation_turns_the_shaft_whatever_the_setup_says():
    recipe = recipe_of(LabState(rotation_wrong=True))
    assert recipe.setup.machine.rotation == "cw"
    assert Truth(recipe).ellipse("Lab", 1.0, 0.5).precession == "forward"
    assert compose(LabState(rotation_wrong=True)).seen_ellipse.precession == "backward"
    content = recipe.model_dump()
    content["speed"]["rotation"] = "cw"
    turned = Truth(Recipe.model_validate(content)).gap_um("LAB-X", np.array([0.013]))
    assert turned != pytest.approx(Truth(recipe).gap_um("LAB-X", np.array([0.013])))


PLANE = 'name = "P"\n'


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("points = [[0, 1500]]", 'points = [[0, 1500]]\nrotation = "left"', "speed.rotation"),
        (PLANE, PLANE + "preload = { at_deg = 0, flatten = 1.0 }\n", "flatten"),
        (PLANE, PLANE + "preload = { flatten = 0.5 }\n", "at_deg: is missing"),
        (PLANE, PLANE + "preload = { at_deg = 0, bend_per_mm = -1 }\n", "bend_per_mm"),
        (PLANE, PLANE + "stop = { at_deg = 0, distance_um = -3 }\n", "distance_um"),
        (PLANE, PLANE + "stop = { at_deg = 0, distance_um = 3, rebound = 2 }\n", "rebound"),
        (PLANE, PLANE + "stop = { at_deg = 0, distance_um = 3, drag = nan }\n", "drag"),
        (PLANE, PLANE + "response = [{ table = [] }]\n", "table"),
        (PLANE, PLANE + "response = [{ table = [[1, 2, 3, 4]] }]\n", "table"),
        (
            PLANE,
            PLANE + "response = [{ table = [[900, 1, 0, 0, 0], [800, 1, 0, 0, 0]] }]\n",
            "must rise",
        ),
        ("= 1000", "= 1000\nscratch = [{ lag_deg = 0, depth_um = 3, width_deg = 0 }]", "width_deg"),
        ("= 1000", "= 1000\nscratch = [{ lag_deg = 0, depth_um = -3 }]", "depth_um"),
        ("= 1000", '= 1000\ntrue_angle_deg = "up"', "true_angle_deg"),
    ],
)
def test_what_is_wrong_in_the_new_parts_is_told(old, new, told):
    assert old in GOOD
    with pytest.raises(InputError, match=told) as caught:
        parse_recipe(GOOD.replace(old, new, 1), "bad.toml")
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    "extra",
    [
        "response = [{ table = [[900, 1, 0, 0, 0]] }]\n",
        "",
    ],
)
def test_parts_that_turn_need_a_speed(extra):
    text = GOOD.replace("[speed]\npoints = [[0, 1500]]\n", "").replace(
        "order = 1,", "frequency_hz = 9,"
    )
    if extra:
        text = text.replace(PLANE, PLANE + extra, 1)
    else:
        text = text.replace("= 1000", "= 1000\nscratch = [{ lag_deg = 0, depth_um = 3 }]")
    with pytest.raises(InputError, match=r"\[speed\] is missing"):
        parse_recipe(text, "bad.toml")


def test_a_true_angle_needs_a_plane():
    text = GOOD.split("[[setup.plane]]")[0].replace("[[plane]]\n" + PLANE, "")
    text = text.replace("component = [{ order = 1, forward_um_pp = 20 }]\n", "")
    text = text.replace("= 1000", "= 1000\ntrue_angle_deg = 30")
    with pytest.raises(InputError, match="needs a probe of a plane"):
        parse_recipe(text, "bad.toml")
