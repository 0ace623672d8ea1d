"""Two close critical speeds of a support that is stiffer one way than across it."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.model.response_results import PlaneResponse, ResponsePoints
from analysis.rotor.response.principal_axes import plane_response
from analysis.rotor.response.responses import response_of
from analysis.rotor.revolutions import revolution_table
from analysis.views.response import answer_response
from tests.analysis.runs import OPERATING, SLOW, jeffcott, jeffcott_truth, run_capture, turn_times
from tests.analysis.synthetic import setup_of


def orbit(
    rpm: np.ndarray, low: float, high: float, damping: float, axis_deg: float
) -> tuple[np.ndarray, np.ndarray]:
    """x and y of the textbook rotor in a support with principal axes at `axis_deg` and across.

    Counter-clockwise unbalance in the direction of the phase reference: force along u is e^(-jα)
    of the one along x, along v 90° behind it.
    """
    angle = np.radians(axis_deg)
    u = 10.0 * jeffcott(rpm, low, damping) * np.exp(-1j * angle)
    v = 10.0 * jeffcott(rpm, high, damping) * -1j * np.exp(-1j * angle)
    return u * np.cos(angle) - v * np.sin(angle), u * np.sin(angle) + v * np.cos(angle)


def plane(
    low: float, high: float, damping: float, axis_deg: float, noise_um: float = 0.3
) -> PlaneResponse:
    times, rpm = turn_times(400.0, 6000.0, 60.0)
    random = np.random.default_rng(7)

    def noisy(vectors: np.ndarray) -> ResponsePoints:
        noise = random.standard_normal(len(rpm)) + 1j * random.standard_normal(len(rpm))
        return ResponsePoints(1, times, rpm, vectors + noise_um / np.sqrt(2.0) * noise, True)

    x, y = orbit(rpm, low, high, damping, axis_deg)
    return plane_response("P", noisy(x), noisy(y), OPERATING)


@pytest.mark.parametrize(
    ("low", "high", "damping", "axis_deg"),
    [
        (3080.0, 3190.0, 0.067, 20.0),  # closer than either is wide: one hump at any probe
        (3000.0, 3150.0, 0.03, 70.0),
        (3000.0, 3300.0, 0.04, 0.0),
        (3300.0, 3000.0, 0.04, 35.0),
    ],
)
def test_principal_directions_show_both(
    low: float, high: float, damping: float, axis_deg: float
) -> None:
    found = plane(low, high, damping, axis_deg)
    assert found.axis_deg is not None
    assert found.first is not None
    assert found.second is not None
    assert found.split
    away = (found.axis_deg - axis_deg + 45.0) % 90.0 - 45.0
    assert abs(away) < 5.0
    swapped = abs((found.axis_deg - axis_deg + 90.0) % 180.0 - 90.0) > 45.0
    pair = (found.second, found.first) if swapped else (found.first, found.second)
    for response, natural in zip(pair, (low, high), strict=True):
        (critical,) = response.criticals
        speed, height, factor = jeffcott_truth(natural, damping)
        assert critical.speed_rpm == pytest.approx(speed, rel=0.006)
        assert critical.amplitude_um_pp == pytest.approx(10.0 * height, rel=0.03)
        assert critical.amplification_factor == pytest.approx(factor, rel=0.06)


def test_a_round_support_has_no_axes() -> None:
    found = plane(3000.0, 3000.0, 0.05, 20.0)
    assert found.axis_deg is None
    assert not found.split
    assert [notice.flag for notice in found.notices] == ["no-axes"]


@pytest.mark.parametrize("probe_deg", [45.0, 135.0])
def test_well_apart_both_show_at_a_probe(probe_deg: float) -> None:
    times, rpm = turn_times(400.0, 6000.0, 60.0)
    x, y = orbit(rpm, 2700.0, 3300.0, 0.03, 0.0)
    angle = np.radians(probe_deg)
    seen = ResponsePoints(1, times, rpm, x * np.cos(angle) + y * np.sin(angle), True)
    speeds = [critical.speed_rpm for critical in response_of("X", seen, None).criticals]
    assert speeds == pytest.approx([2700.0, 3300.0], rel=0.01)


def test_from_a_capture_with_slow_roll() -> None:
    """Probes at 45° to either side see one hump each; the plane tells two critical speeds."""
    low, high, damping, axis = 3080.0, 3190.0, 0.067, 20.0

    def at(angle_deg: float, slow: complex) -> object:
        def vector(rpm: np.ndarray) -> np.ndarray:
            x, y = orbit(rpm, low, high, damping, axis)
            angle = np.radians(angle_deg)
            return slow + x * np.cos(angle) + y * np.sin(angle)

        return vector

    # Probe angles are from 12 o'clock, clockwise: 45° right is 45° from +x, 45° left is 135°.
    vectors = {"X": at(45.0, SLOW), "Y": at(135.0, 1j * SLOW)}
    capture = run_capture(vectors, 400.0, 5300.0, 60.0)  # type: ignore[arg-type]
    setup = setup_of(machine={"rotation": "ccw", "operating_rpm": list(OPERATING)})
    table = revolution_table(capture, setup, capture.span, orders=(1,))
    result = answer_response("run", table, setup)
    (found,) = result.planes.values()
    assert found.split
    assert found.first is not None
    assert found.second is not None
    speeds = sorted(
        critical.speed_rpm
        for response in (found.first, found.second)
        for critical in response.criticals
    )
    wanted = [jeffcott_truth(natural, damping)[0] for natural in (low, high)]
    assert speeds == pytest.approx(wanted, rel=0.006)
    for response in result.probes.values():
        for critical in response.criticals:
            assert "two-directions" in [doubt.flag for doubt in critical.doubts]
