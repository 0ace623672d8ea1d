"""Synthetic shafts against closed forms and worked examples; the source stands beside each."""

from __future__ import annotations

import cmath
import math

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from analysis.model.setup import Plane
from analysis.model.span import TimeSpan
from analysis.rotor.orbit import ellipse
from analysis.simulate.curve import Curve
from analysis.simulate.recipe import Recipe
from analysis.simulate.recipe_parts import Growth, PlaneMotion, Speed
from analysis.simulate.shaft import ShaftInPlane, growth_share, jeffcott
from analysis.simulate.speed import ShaftSpeed
from analysis.simulate.truth import Truth


def recipe(
    component: dict[str, object] | None = None,
    *,
    angles: tuple[float, float] = (45.0, -45.0),
    rotation: str = "ccw",
    rpm: float = 3000.0,
    **plane: object,
) -> Recipe:
    probes = [
        {
            "name": name,
            "angle_deg": angle,
            "scale_factor_mv_per_um": 7.874,
            "rest_gap_um": 1250.0,
        }
        for name, angle in zip(("A", "B"), angles, strict=True)
    ]
    return Recipe.model_validate(
        {
            "duration_s": 1.0,
            "speed": {"points": [[0.0, rpm]]},
            "plane": [{"name": "P", "component": [component] if component else [], **plane}],
            "channel": [{"probe": name, "sample_rate_hz": 1000.0} for name in ("A", "B")],
            "setup": {
                "machine": {"rotation": rotation},
                "probe": probes,
                "plane": [{"name": "P", "probes": ["A", "B"], "clearance_um": 200.0}],
            },
        }
    )


# Closed form A/e = r²/sqrt((1-r²)² + (2ζr)²), lag = atan2(2ζr, 1-r²): Jeffcott 1919; Friswell et
# al., Dynamics of Rotating Machines (2010), chapter 6. The values are worked out apart from here.
@pytest.mark.parametrize(
    ("damping", "r", "amplitude", "lag"),
    [
        (0.05, 0.5, 0.33260, 3.814),
        (0.05, 0.9, 3.85278, 25.346),
        (0.05, 1.0, 10.0, 90.0),
        (0.05, 1.1, 5.10408, 152.354),
        (0.05, 2.0, 1.33038, 176.186),
        (0.10, 0.9, 3.09485, 43.452),
        (0.10, 1.1, 3.97846, 133.668),
    ],
)
def test_jeffcott_spot_values(damping: float, r: float, amplitude: float, lag: float) -> None:
    response = complex(jeffcott(np.array([r * 3000.0]), 3000.0, damping)[0])
    assert abs(response) == pytest.approx(amplitude, abs=6e-6)
    assert math.degrees(-cmath.phase(response)) == pytest.approx(lag, abs=6e-4)


def test_jeffcott_worked_example() -> None:
    # S. S. Rao, Mechanical Vibrations, chapter 9 (whirling): k = 3.75 MN/m, m = 60 kg,
    # e = 2000 µm, ζ = 0.05, 3600 r/min; the answer worked out apart from here (3.545 mm).
    natural_rpm = math.sqrt(3.75e6 / 60.0) * 60.0 / (2.0 * math.pi)
    response = abs(complex(jeffcott(np.array([3600.0]), natural_rpm, 0.05)[0]))
    assert 2000.0 * response == pytest.approx(3545.16, abs=0.05)


@pytest.mark.parametrize("rotation", ["ccw", "cw"])
def test_equal_supports_give_a_forward_circle(rotation: str) -> None:
    unbalance = {
        "offset_um": 10.0,
        "lag_deg": 30.0,
        "natural_rpm": [3000.0, 3000.0],
        "damping_ratio": [0.05, 0.05],
        "axis_deg": 45.0,
    }
    truth = Truth(recipe(rotation=rotation, unbalance=[unbalance]))
    orbit = truth.ellipse("P", 1, 0.5)
    # At r = 1: A/e = 1/(2ζ), lag 90° behind the heavy spot (Jeffcott 1919).
    assert orbit.major_um == pytest.approx(200.0)
    assert orbit.minor_um == pytest.approx(200.0)
    assert orbit.precession == "forward"
    # The probe at 45° right is the axis of the heavy spot: its high spot comes 30 + 90° later.
    assert math.degrees(-cmath.phase(truth.vector("A", 1, 0.5))) == pytest.approx(120.0)


@pytest.mark.parametrize("rotation", ["ccw", "cw"])
def test_unequal_supports_against_the_equations_of_motion(rotation: str) -> None:
    # Steady solution of p'' + 2ζω p' + ω² p = e Ω² cos(Ωt - β), and the same for q with the sine.
    rpm, offset, beta = 3100.0, 8.0, math.radians(40.0)
    omega, naturals = rpm * math.pi / 30.0, (3000.0 * math.pi / 30.0, 3300.0 * math.pi / 30.0)
    dampings, sign = (0.06, 0.09), 1.0 if rotation == "ccw" else -1.0

    def derivative(t: float, state: np.ndarray) -> list[float]:
        p, q, dp, dq = state
        force = offset * omega**2
        turn = omega * t - beta
        return [
            dp,
            dq,
            force * math.cos(turn) - 2 * dampings[0] * naturals[0] * dp - naturals[0] ** 2 * p,
            sign * force * math.sin(turn)
            - 2 * dampings[1] * naturals[1] * dq
            - naturals[1] ** 2 * q,
        ]

    turn_s = 60.0 / rpm
    times = 60 * turn_s + np.linspace(0.0, turn_s, 9)
    solved = solve_ivp(derivative, (0.0, times[-1]), [0.0] * 4, t_eval=times, rtol=1e-9, atol=1e-9)
    unbalance = {
        "offset_um": offset,
        "lag_deg": 40.0,
        "natural_rpm": [3000.0, 3300.0],
        "damping_ratio": list(dampings),
    }
    motion = PlaneMotion.model_validate({"name": "P", "unbalance": [unbalance]})
    speed = ShaftSpeed(Speed(points=((0.0, rpm),), start_angle_deg=0.0))
    plane = Plane(name="P", probes=("A", "B"))
    shaft = ShaftInPlane(motion, plane, "ccw" if sign > 0 else "cw", speed)
    path = shaft.vibration(times)
    np.testing.assert_allclose(path.real, solved.y[0], atol=1e-4)
    np.testing.assert_allclose(path.imag, solved.y[1], atol=1e-4)


# Rotary components of three orbits, amplitudes zero to peak: Gonella 1972; computed alike by two
# packages for tidal ellipses (utide 0.4.0 and pytmd 3.0.9). X along +x, Y along +y.
@pytest.mark.parametrize(
    ("x", "y", "major", "minor", "inclination"),
    [
        ((3.0, 40.0), (2.0, 150.0), 3.119996, 1.807103, 160.3096),
        ((40.0, 0.0), (25.0, 60.0), 42.553776, 20.351317, 22.8626),
        ((40.0, 0.0), (25.0, 200.0), 46.595290, -7.340230, 148.7098),
    ],
)
@pytest.mark.parametrize("rotation", ["ccw", "cw"])
def test_orbits_seen_by_probes_at_right_and_top(
    x: tuple[float, float],
    y: tuple[float, float],
    major: float,
    minor: float,
    inclination: float,
    rotation: str,
) -> None:
    first, second = (a * cmath.exp(-1j * math.radians(lag)) for a, lag in (x, y))
    counter, clockwise = (first + 1j * second) / 2.0, ((first - 1j * second) / 2.0).conjugate()
    forward, backward = (counter, clockwise) if rotation == "ccw" else (clockwise, counter)
    component = {
        "order": 1.0,
        "forward_um_pp": 2.0 * abs(forward),
        "forward_at_deg": math.degrees(cmath.phase(forward)),
        "backward_um_pp": 2.0 * abs(backward),
        "backward_at_deg": math.degrees(cmath.phase(backward)),
    }
    truth = Truth(recipe(component, angles=(90.0, 0.0), rotation=rotation))
    seen_x, seen_y = truth.vector("A", 1, 0.3), truth.vector("B", 1, 0.3)
    assert seen_x == pytest.approx(2.0 * first)
    assert seen_y == pytest.approx(2.0 * second)
    orbit = truth.ellipse("P", 1, 0.3)
    assert orbit.major_um == pytest.approx(2.0 * major, abs=3e-6)
    assert orbit.minor_um == pytest.approx(2.0 * abs(minor), abs=3e-6)
    assert orbit.inclination_deg == pytest.approx(inclination, abs=1e-4)
    with_rotation = (minor > 0) == (rotation == "ccw")
    assert orbit.precession == ("forward" if with_rotation else "backward")


@pytest.mark.parametrize("rotation", ["ccw", "cw"])
@pytest.mark.parametrize("angles", [(45.0, -45.0), (60.0, -45.0), (0.0, 105.0)])
def test_vectors_of_any_pair_give_the_ellipse_back(
    rotation: str, angles: tuple[float, float]
) -> None:
    component = {
        "order": 2.0,
        "forward_um_pp": 21.0,
        "forward_at_deg": 70.0,
        "backward_um_pp": 34.0,
        "backward_at_deg": -15.0,
    }
    truth = Truth(recipe(component, angles=angles, rotation=rotation))
    orbit = truth.ellipse("P", 2, 0.2)
    seen = ellipse(2, truth.vector("A", 2, 0.2), truth.vector("B", 2, 0.2), *angles, rotation)
    assert seen.major_um == pytest.approx(orbit.major_um)
    assert seen.minor_um == pytest.approx(orbit.minor_um)
    assert seen.inclination_deg == pytest.approx(orbit.inclination_deg)
    assert seen.precession == orbit.precession == "backward"


def test_vector_is_the_fourier_component_of_the_gap() -> None:
    component = {"order": 1.0, "forward_um_pp": 30.0, "forward_at_deg": 200.0}
    truth = Truth(recipe(component, rotation="cw", rpm=1200.0))
    start = float(truth.event_times(TimeSpan(0.0, 0.5))[2])
    turn = np.linspace(0.0, 1.0, 720, endpoint=False)
    gap = truth.gap_um("B", start + turn * 60.0 / 1200.0)
    # Contract 1: s = -(g - mean g) and s ≈ (A/2) cos(θ - φ), so the vector is 4 mean(s exp(-jθ)).
    vector = 4.0 * np.mean(-(gap - gap.mean()) * np.exp(-2j * np.pi * turn))
    assert complex(vector) == pytest.approx(truth.vector("B", 1, start))


# Ocvirk's short bearing, tan φ = π sqrt(1-ε²)/(4ε) from the load in the direction of rotation:
# Friswell et al., 5.5; the angles are worked out apart from here.
@pytest.mark.parametrize(("ratio", "attitude"), [(0.1, 82.71), (0.5, 53.68), (0.9, 20.83)])
@pytest.mark.parametrize("rotation", ["ccw", "cw"])
def test_journal_sits_on_the_short_bearing_locus(
    ratio: float, attitude: float, rotation: str
) -> None:
    truth = Truth(recipe(rotation=rotation, eccentricity_ratio=[[0.0, 1.0], [3000.0, ratio]]))
    from_centre = truth.moved_from_rest("P", 0.5) - 100j  # at rest it lies 100 µm below the centre
    assert abs(from_centre) == pytest.approx(100.0 * ratio)
    from_load = math.degrees(cmath.phase(from_centre / -1j))
    # Counter-clockwise with the load down, the journal sits lower right.
    assert from_load == pytest.approx(attitude if rotation == "ccw" else -attitude, abs=0.01)


def test_growth_follows_its_differential_equation() -> None:
    growth = Growth(onset_s=2.0, time_constant_s=1.5, start_share=0.02)
    times = np.linspace(2.0, 14.0, 25)
    solved = solve_ivp(
        lambda _, a: (a - a**3) / 1.5, (2.0, 14.0), [0.02], t_eval=times, rtol=1e-10, atol=1e-12
    )
    np.testing.assert_allclose(growth_share(growth, times), solved.y[0], atol=1e-7)
    assert growth_share(growth, np.array([1.99]))[0] == 0.0


def test_angle_is_the_integral_of_speed() -> None:
    points = ((0.0, 600.0), (2.0, 600.0), (5.0, 3000.0), (9.0, 3000.0), (11.0, 1200.0))
    shaft = ShaftSpeed(Speed(points=points, start_angle_deg=90.0))

    def revolutions_a_second(t: float) -> float:
        return float(shaft.rpm(np.array([t]))[0]) / 60.0

    for end in (0.0, 1.0, 4.0, 7.0, 10.3, 15.0):
        knots = [t for t, _ in points if t < end]
        expected, _ = quad(revolutions_a_second, 0.0, end, points=knots or None, limit=200)
        assert float(shaft.turns(np.array([end]))[0]) == pytest.approx(0.25 + expected, abs=1e-7)


def test_curve_never_overshoots_and_has_no_kink() -> None:
    curve = Curve([(0.0, 1.0), (1.0, 1.0), (2.0, 5.0), (3.0, 5.0), (3.5, 2.0)])
    x = np.linspace(-1.0, 5.0, 60_001)
    y = curve(x)
    assert y.min() == 1.0
    assert y.max() == 5.0
    assert np.all(y[x <= 1.0] == 1.0)
    slope = np.diff(y) / np.diff(x)
    assert np.abs(np.diff(slope)).max() < 0.02  # one step of x changes no slope by more


def test_events_are_whole_turns() -> None:
    truth = Truth(recipe(rpm=1234.5))
    for time_s in truth.event_times(TimeSpan(0.1, 0.9)):
        turns = truth.turns(float(time_s))
        assert abs(turns - round(turns)) < 1e-9
    assert truth.speed_rpm(0.5) == pytest.approx(1234.5)
