"""The Lab at sixty frames a second: a frame has 16.7 ms, and drawing needs most of it.

Wanted: a state composed in less than 4 ms, the heaviest one, too.
"""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np

from analysis.simulate.lab import compose
from analysis.simulate.lab_state import ORDERS, LabProbe, LabState, Precession, SurfaceMark
from analysis.simulate.recipe_parts import Preload, Stop
from analysis.simulate.rotor_model import Rotor, modes, steady_response

MOST_MS = 4.0
FRAMES = 100

HEAVIEST = LabState(
    motions=tuple(Precession(order, 20.0 / order, 20.0, 5.0, 50.0) for order in ORDERS),
    whirl=Precession(0.46, 40.0),
    preload=Preload(at_deg=-90.0, flatten=0.2, bend_per_mm=5.0),
    stop=Stop(at_deg=10.0, distance_um=30.0, rebound=0.5, drag=0.5),
    surface=SurfaceMark(5.0, 10.0, 20.0, 30.0),
    noise_um_rms=0.5,
    probes=(LabProbe("LAB-X", 45.0, 260.0), LabProbe("LAB-Y", -45.0)),
)


def median_ms(states) -> float:
    taken = []
    for state in states:
        start = time.perf_counter()
        compose(state)
        taken.append(time.perf_counter() - start)
    return float(np.median(taken)) * 1000.0


def test_dragging_an_amplitude_and_a_ratio():
    for name, states in (
        ("plain", [LabState((Precession(1.0, 40.0 + k),)) for k in range(FRAMES)]),
        ("heaviest", [replace(HEAVIEST, asymmetry_um_pp=float(k)) for k in range(FRAMES)]),
        (
            "ratio dragged",
            [replace(HEAVIEST, whirl=Precession(0.3 + k / 1000, 40.0)) for k in range(FRAMES)],
        ),
    ):
        ms = median_ms(states)
        print(f"compose, {name}: {ms:.2f} ms")
        assert ms < MOST_MS


def test_a_rotor_slider():
    speeds = np.linspace(300.0, 6000.0, 400)
    taken = []
    for k in range(FRAMES):
        rotor = Rotor(eccentricity_um=10.0 + k)
        start = time.perf_counter()
        steady_response(rotor, speeds, "journal")
        modes(rotor, 3000.0)
        taken.append(time.perf_counter() - start)
    ms = float(np.median(taken)) * 1000.0
    print(f"response at 400 speeds, and modes: {ms:.2f} ms")
    assert ms < MOST_MS
