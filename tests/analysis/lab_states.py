"""Random states of the Lab, the same ones each time, and their captures."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from analysis.files.hdf5_write import write_hdf5
from analysis.files.open import open_capture
from analysis.files.setup_find import find_setup
from analysis.files.setup_read import parse_setup
from analysis.model.results import SpanReadings
from analysis.model.span import TimeSpan
from analysis.simulate.lab import TURNS
from analysis.simulate.lab_recipe import recipe_of
from analysis.simulate.lab_state import ORDERS, LabProbe, LabState, Precession, SurfaceMark
from analysis.simulate.recipe_parts import Preload, Stop
from analysis.simulate.synthesis import simulate
from analysis.views.readings import read_span


def some_precession(random: np.random.Generator, order: float, most: float) -> Precession:
    forward, backward = random.uniform(0.0, most, 2)
    at, back_at = random.uniform(-180.0, 360.0, 2)
    return Precession(order, float(forward), float(at), float(backward), float(back_at))


def linear_state(seed: int) -> LabState:
    """Any state in which every reading is a linear matter: no wall, no bend, no noise."""
    random = np.random.default_rng(seed)
    first = float(random.uniform(-80.0, 80.0))
    apart = float(random.choice([90.0, -90.0, random.uniform(30.0, 150.0)]))
    others = random.choice([order for order in ORDERS if order != 1.0], 3, replace=False)
    motions = [some_precession(random, 1.0, 90.0)]
    motions += [some_precession(random, float(order), 30.0 / max(order, 1.0)) for order in others]
    whirl = some_precession(random, float(random.uniform(0.2, 0.95)), 60.0)
    return LabState(
        motions=tuple(motions),
        whirl=whirl if random.random() < 0.5 else None,
        asymmetry_um_pp=float(random.choice([0.0, 12.0])),
        asymmetry_at_deg=float(random.uniform(0.0, 360.0)),
        surface=SurfaceMark(float(random.choice([0.0, 8.0])), float(random.uniform(0, 360))),
        probes=(
            LabProbe("LAB-X", first, float(random.uniform(700.0, 1800.0))),
            LabProbe("LAB-Y", first - apart, float(random.uniform(700.0, 1800.0))),
        ),
        swapped=bool(random.random() < 0.3),
        rotation="cw" if random.random() < 0.5 else "ccw",
        rotation_wrong=bool(random.random() < 0.3),
        speed_rpm=float(10.0 ** random.uniform(2.6, 4.2)),
        seed=seed,
    )


def bent_state(seed: int) -> LabState:
    """A state with a preload, a stop, a scratch, or a probe beyond its linear range."""
    random = np.random.default_rng(10_000 + seed)
    preload = Preload(
        at_deg=float(random.uniform(0, 360)),
        flatten=float(random.uniform(0, 0.8)),
        bend_per_mm=float(random.uniform(0, 4)),
    )
    stop = Stop(
        at_deg=float(random.uniform(0, 360)),
        distance_um=float(random.uniform(10, 40)),
        rebound=float(random.uniform(0, 1)),
        drag=float(random.uniform(0, 1)),
    )
    scratch = SurfaceMark(4.0, 10.0, 15.0, float(random.uniform(0, 360)), 25.0)
    kind = seed % 4
    state = linear_state(seed)
    if kind == 0:
        return replace(state, preload=preload)
    if kind == 1:
        return replace(state, stop=stop)
    if kind == 2:
        return replace(state, preload=preload, stop=stop, surface=scratch)
    first, second = state.probes
    return replace(
        state, probes=(replace(first, rest_gap_um=float(random.choice([235.0, 2300.0]))), second)
    )


def measured(state: LabState, folder: Path, turns: int = TURNS) -> SpanReadings:
    """What the program reads over the state's first turns, from a capture written and opened."""
    turn_s = 60.0 / state.speed_rpm
    recipe = recipe_of(state, duration_s=(turns + 2.5) * turn_s)
    path = folder / "lab.h5"
    write_hdf5(path, simulate(recipe))
    capture = open_capture(path)
    found = find_setup(capture)
    assert found is not None
    setup, _ = parse_setup(found.text, found.source)
    # A sample or so beyond the first and the last event on either side.
    span = TimeSpan(0.495 * turn_s, (turns + 0.505) * turn_s)
    readings = read_span(capture, setup, span)
    capture.close()
    return readings


def lag_apart(a: float, b: float) -> float:
    return abs((a - b + 180.0) % 360.0 - 180.0)
