"""The Lab's rotor: closed forms of shaft and supports in series, and integration in time."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from analysis.files.hdf5_write import write_hdf5
from analysis.files.open import open_capture
from analysis.jobs import JobCancelled
from analysis.model.span import TimeSpan
from analysis.rotor.revolutions import revolution_table
from analysis.simulate.lab import compose
from analysis.simulate.lab_recipe import PLANE
from analysis.simulate.recipe import parse_recipe
from analysis.simulate.recipe_write import recipe_to_toml
from analysis.simulate.rotor_model import (
    RPM,
    Rotor,
    modes,
    stability_threshold,
    steady_response,
    system_matrix,
)
from analysis.simulate.rotor_sweep import Sweep, recipe_of_run, state_at, sweep, turn_circles
from analysis.simulate.synthesis import simulate


def in_series(a: float, b: float) -> float:
    return a * b / (a + b)


def test_two_natural_frequencies_and_backward_precession_between_them():
    # Supports of two stiffnesses: k = ks kb/(ks + kb) in each direction. Between the two critical
    # speeds x is past its own and y is not, so the orbit runs backward (Friswell et al. 2010,
    # chapter 6, from memory).
    rotor = Rotor(disc_ns_per_m=1.0, support_n_per_m=(12e6, 30e6), support_ns_per_m=(10.0, 10.0))
    critical = [
        math.sqrt(in_series(rotor.shaft_n_per_m, k) / rotor.mass_kg) / RPM for k in (12e6, 30e6)
    ]
    found = modes(rotor, 3000.0)
    assert [mode.frequency_rpm for mode in found] == pytest.approx(critical, rel=1e-6)
    speeds = np.array([0.8 * critical[0], sum(critical) / 2.0, 1.2 * critical[1]])
    for rotation in ("ccw", "cw"):
        for station in ("disc", "journal"):
            response = steady_response(replace(rotor, rotation=rotation), speeds, station)
            ahead = np.abs(response.forward) > np.abs(response.backward)
            assert ahead.tolist() == [True, False, True]


def test_the_journal_moves_by_the_supports_share():
    # In series without damping of note: journal / disc = ks / (ks + kb).
    rotor = Rotor(support_ns_per_m=(1e-3, 1e-3), support_n_per_m=(16e6, 16e6))
    speeds = np.array([1000.0, 6000.0])
    disc, journal = steady_response(rotor, speeds), steady_response(rotor, speeds, "journal")
    share = rotor.shaft_n_per_m / (rotor.shaft_n_per_m + 16e6)
    np.testing.assert_allclose(journal.x, share * disc.x, rtol=1e-6)
    # Load: 600 N downwards, over the stiffnesses.
    assert journal.mean[0] == pytest.approx(-600.0 / 16e6 * 1e6j)
    assert disc.mean[0] == pytest.approx(-600.0 / in_series(9e6, 16e6) * 1e6j)


@pytest.mark.parametrize("rotation", ["ccw", "cw"])
def test_fluid_that_goes_round_takes_the_journal_along(rotation):
    # kb d + j s q d = load, with d = x + jy and s the sense of rotation: off the load's direction
    # towards the rotation, by atan(q / kb).
    rotor = Rotor(
        support_n_per_m=(16e6, 16e6),
        support_ns_per_m=(30e3, 30e3),
        fluid_ratio=0.45,
        rotation=rotation,
    )
    speed = 3000.0
    carried = 0.45 * 30e3 * speed * RPM
    sign = 1.0 if rotation == "ccw" else -1.0
    told = steady_response(rotor, np.array([speed]), "journal").mean[0]
    assert told == pytest.approx(-600.0j / (16e6 - 1j * sign * carried) * 1e6)
    assert sign * told.real > 0.0  # counter-clockwise, load down: to the right


def test_a_mirror_turns_one_rotation_into_the_other():
    rotor = Rotor(fluid_ratio=0.3, bow_um=5.0, bow_at_deg=40.0, eccentricity_at_deg=70.0)
    mirrored = replace(
        rotor, rotation="cw", bow_at_deg=-40.0, eccentricity_at_deg=-70.0, load_at_deg=90.0
    )
    speeds = np.linspace(500.0, 6000.0, 50)
    one, other = steady_response(rotor, speeds), steady_response(mirrored, speeds)
    np.testing.assert_allclose(other.forward, one.forward.conj(), rtol=1e-9)
    np.testing.assert_allclose(other.backward, one.backward.conj(), rtol=1e-9)
    np.testing.assert_allclose(other.mean, one.mean.conj(), rtol=1e-9)
    assert stability_threshold(rotor) == pytest.approx(stability_threshold(mirrored))


@pytest.mark.parametrize("rotation", ["ccw", "cw"])
def test_integration_at_constant_speed_stays_on_the_steady_state(rotation):
    rotor = Rotor(bow_um=8.0, bow_at_deg=50.0, fluid_ratio=0.4, rotation=rotation)
    run = Sweep(2500.0, 2500.0, seconds=2.0)
    path = sweep(rotor, run)
    assert path.stopped is None
    for places, station in ((path.disc, "disc"), (path.journal, "journal")):
        steady = steady_response(rotor, np.array([2500.0]), station)
        turned = np.exp(2j * np.pi * path.turns * rotor.sign)
        told = steady.mean[0] + steady.forward[0] * turned + steady.backward[0] * turned.conj()
        np.testing.assert_allclose(places, told, rtol=0.0, atol=2e-3)


def test_a_fast_run_against_an_integration_of_jeffcotts_equation():
    # Rigid supports: z'' + 2ζω z' + ω² z = e (θ'² - jθ'') exp(jθ), integrated here.
    mass, stiffness, damping = 60.0, 3.75e6, 2.0 * 0.05 * math.sqrt(60.0 * 3.75e6)
    rotor = Rotor(
        mass_kg=mass,
        shaft_n_per_m=stiffness,
        disc_ns_per_m=damping,
        support_n_per_m=(1e12, 1e12),
        support_ns_per_m=(1e5, 1e5),
        eccentricity_um=20.0,
        load_n=0.0,
    )
    run = Sweep(1000.0, 4000.0, seconds=1.5)
    path = sweep(rotor, run)
    rate = run.acceleration

    def motion(t, z):
        speed = 1000.0 * RPM + rate * t
        angle = 1000.0 * RPM * t + rate * t * t / 2.0
        force = 20.0 * (speed**2 - 1j * rate) * np.exp(1j * angle)
        return [z[1], force - damping / mass * z[1] - stiffness / mass * z[0]]

    first = complex(path.disc[0])
    speed = 1000.0 * RPM
    start = [first, 1j * speed * first]  # a forward circle
    solved = solve_ivp(
        motion, (0.0, 1.5), np.array(start, dtype=complex), "DOP853", path.time_s, rtol=1e-9
    )
    np.testing.assert_allclose(path.disc, solved.y[0], rtol=0.0, atol=0.02)
    # Passing quickly, the peak comes later and lower than at constant speeds.
    speeds = np.linspace(1000.0, 4000.0, 2001)
    steady = np.abs(steady_response(rotor, speeds).forward)
    moving = np.abs(path.disc)
    assert moving.max() < 0.95 * steady.max()
    assert path.speed_rpm[int(np.argmax(moving))] > speeds[int(np.argmax(steady))]


def test_a_slow_run_traces_the_steady_response():
    rotor = Rotor()
    path = sweep(rotor, Sweep(2000.0, 4500.0, seconds=60.0))
    speeds, (forward, backward) = turn_circles(path, path.journal, rotor.sign)
    steady = steady_response(rotor, speeds, "journal")
    largest = np.abs(steady.forward).max()
    assert np.abs(np.abs(forward) - np.abs(steady.forward)).max() < 0.03 * largest
    assert np.abs(np.abs(backward) - np.abs(steady.backward)).max() < 0.03 * largest


def test_beyond_its_threshold_the_rotor_whirls_until_it_touches():
    rotor = Rotor(fluid_ratio=0.48, support_n_per_m=(16e6, 16e6), disc_ns_per_m=0.0)
    threshold = stability_threshold(rotor)
    path = sweep(rotor, Sweep(threshold * 0.95, threshold * 1.15, seconds=10.0), clearance_um=400.0)
    assert path.stopped is not None
    assert path.time_s[-1] < 10.0
    assert path.speed_rpm[-1] > threshold
    assert np.abs(path.disc).max() <= 400.0
    with pytest.raises(ValueError, match="unstable"):
        recipe_of_run(rotor, Sweep(600.0, threshold * 1.1, seconds=10.0))


def test_a_run_can_be_stopped():
    class Stop:
        def report(self, fraction, what=""):
            if fraction > 0.2:
                raise JobCancelled

    with pytest.raises(JobCancelled):
        sweep(Rotor(), Sweep(600.0, 1200.0, seconds=2.0), progress=Stop())


def test_a_run_saved_as_a_recipe_reads_back_as_the_model_has_it(tmp_path):
    rotor = Rotor(bow_um=3.0, bow_at_deg=120.0, rotation="cw")
    recipe = recipe_of_run(rotor, Sweep(1500.0, 4500.0, seconds=16.0))
    assert parse_recipe(recipe_to_toml(recipe), "run.toml") == recipe
    path = tmp_path / "run.h5"
    write_hdf5(path, simulate(recipe))
    capture = open_capture(path)
    table = revolution_table(capture, recipe.setup, TimeSpan(0.0, 20.0))
    capture.close()
    told = steady_response(rotor, table.speed_rpm, "journal")
    for probe in recipe.setup.probe:
        found, vector = table.probes[probe.name], told.probe_vector(probe.angle_deg)
        # Response and speed change within a turn: what is left of that is its second order.
        assert np.abs(found.vectors[1] - vector).max() < 0.01 * np.abs(vector).max()
        towards = told.mean.real * probe.direction[0] + told.mean.imag * probe.direction[1]
        # A vector that changes by ΔV within a turn leaves a mean of up to |ΔV|/4π.
        left = np.abs(np.diff(vector)).max() / (4.0 * np.pi)
        assert np.abs(found.gap_um - (probe.rest_gap_um - towards)).max() < 1.1 * left + 0.01
    assert recipe.plane[0].name == PLANE


@pytest.mark.parametrize("rotation", ["ccw", "cw"])
def test_the_orbit_at_a_speed_is_a_state_of_the_lab(rotation):
    rotor = Rotor(rotation=rotation, support_n_per_m=(10e6, 30e6), eccentricity_at_deg=70.0)
    for speed in (1500.0, 3200.0, 5200.0):
        result = compose(state_at(rotor, speed))
        steady = steady_response(rotor, np.array([speed]), "journal")
        for probe in result.state.probes:
            told = complex(steady.probe_vector(probe.angle_deg)[0])
            assert result.readings[probe.name].vectors[1] == pytest.approx(told, rel=1e-9)
    wild = replace(rotor, cross_n_per_m=20e6)
    with pytest.raises(ValueError, match="unstable"):
        state_at(wild, 3000.0)


@pytest.mark.parametrize("rotation", ["ccw", "cw"])
def test_a_modes_path_is_that_of_the_rotor_let_go_in_it(rotation):
    rotor = Rotor(rotation=rotation, support_n_per_m=(10e6, 30e6), fluid_ratio=0.3)
    speed = 3000.0 * RPM
    (kx, ky), (cx, cy) = rotor.support_n_per_m, rotor.support_ns_per_m
    # What goes round with the fluid drives counter-clockwise in a shaft that turns so.
    carried = rotor.sign * rotor.fluid_ratio * speed

    def moved(_time: float, z: np.ndarray) -> list[float]:
        x, y, vx, vy, a, b = z
        bent_x, bent_y = rotor.shaft_n_per_m * (x - a), rotor.shaft_n_per_m * (y - b)
        return [
            vx,
            vy,
            (-bent_x - rotor.disc_ns_per_m * vx) / rotor.mass_kg,
            (-bent_y - rotor.disc_ns_per_m * vy) / rotor.mass_kg,
            (bent_x - kx * a - carried * cx * b) / cx,
            (bent_y - ky * b + carried * cy * a) / cy,
        ]

    values, shapes = np.linalg.eig(system_matrix(rotor, speed))
    for mode in modes(rotor, 3000.0):
        rank = int(np.argmin(np.abs(values.imag - mode.frequency_rpm * RPM)))
        start = shapes[:, rank].real
        quarter = 0.25 * 2.0 * math.pi / values[rank].imag
        run = solve_ivp(moved, (0.0, quarter), start, rtol=1e-10, atol=1e-14)
        end = complex(run.y[0, -1], run.y[1, -1]) / math.exp(mode.growth_per_s * quarter)
        size = complex(start[0], start[1]) / mode.place(0.0, rotor.sign)
        assert end / size == pytest.approx(mode.place(math.pi / 2.0, rotor.sign), abs=1e-6)
        assert sum(abs(circle) for circle in mode.circles) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"mass_kg": 0.0}, "above 0"),
        ({"support_ns_per_m": (0.0, 1.0)}, "above 0"),
        ({"bow_um": -1.0}, "negative"),
        ({"fluid_ratio": 1.5}, "fluid"),
        ({"load_at_deg": math.inf}, "finite"),
    ],
)
def test_what_no_rotor_can_be(change, told):
    with pytest.raises(ValueError, match=told):
        Rotor(**change)


def test_what_no_run_can_be():
    for wrong in ({"to_rpm": -1.0}, {"seconds": 0.0}, {"points_per_turn": 4}):
        with pytest.raises(ValueError, match=r"speeds|sweep"):
            Sweep(**wrong)
