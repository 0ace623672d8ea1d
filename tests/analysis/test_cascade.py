"""Cascades of a run whose orders and whirl are known, and what is found between the orders."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.model.capture import ArraySource, Capture, Channel
from analysis.model.response_results import Cascade, NonSynchronous
from analysis.model.setup import Setup
from analysis.rotor.response.cascade import CascadeChoice, cascade
from analysis.rotor.response.nonsync import consistent_with, non_synchronous
from analysis.rotor.turns import find_turns
from tests.analysis.synthetic import pulses, setup_of, volts_of

RATE = 2048.0
SECONDS = 30.0
FROM_S, TO_S = 12.0, 24.0
SETUP = setup_of()


def whirl(
    *,
    order: float | None = 0.46,
    hertz: float | None = None,
    forward: float = 6.0,
    backward: float = 1.0,
    rotation: float = 1.0,
    noise_um: float = 0.2,
) -> Capture:
    """A run up from 1200 to 3600 r/min: 1X of 20 µm p-p, 2X of 8, and a whirl for a while.

    Amplitudes are radii, so that a circle of radius R reads 2R p-p.
    """
    times = np.arange(round(SECONDS * RATE)) / RATE
    turns = 20.0 * times + 40.0 / SECONDS / 2.0 * times**2
    angle = 2.0 * np.pi * turns
    slow = order * angle if order is not None else 2.0 * np.pi * float(hertz or 0.0) * times
    on = (times > FROM_S) & (times < TO_S)
    d = 10.0 * np.exp(1j * rotation * angle) + 4.0 * np.exp(2j * rotation * angle)
    d += on * (
        forward * np.exp(1j * rotation * slow) + backward * np.exp(-1j * (rotation * slow - 0.4))
    )
    random = np.random.default_rng(5)
    channels = {"REF": Channel("REF", RATE, ArraySource(pulses(turns)))}
    for name, angle_deg in (("X", 45.0), ("Y", -45.0)):
        a = np.radians(angle_deg)
        towards = d.real * np.sin(a) + d.imag * np.cos(a)
        gap = 1250.0 - towards + noise_um * random.standard_normal(len(times))
        channels[name] = Channel(name, RATE, ArraySource(volts_of(gap)))
    return Capture("whirl", channels)


def rows_of(
    capture: Capture,
    choice: CascadeChoice,
    setup: Setup = SETUP,
    probes: tuple[str, ...] = ("X", "Y"),
) -> Cascade | None:
    turns = find_turns(capture, setup, capture.span)
    chosen = tuple(setup.probe_named(name) for name in probes)
    return cascade(capture, setup, turns, chosen, choice)


def components(capture: Capture) -> tuple[NonSynchronous, ...]:
    rows = rows_of(capture, CascadeChoice(against="time", turns=32, rows=1000))
    assert rows is not None
    return non_synchronous(rows, 0.5)


def line(rows: object, at: float) -> np.ndarray:
    place = int(np.argmin(np.abs(rows.frequency - at)))  # type: ignore[attr-defined]
    return rows.amplitude_um[:, place]  # type: ignore[attr-defined, no-any-return]


def test_orders_stand_still_against_speed() -> None:
    rows = rows_of(whirl(), CascadeChoice(rows=60))
    assert rows is not None
    assert rows.amplitude_um.shape == (60, 2 * 64 + 1)
    assert np.all(np.diff(rows.speed_rpm) > 0.0)
    assert rows.speed_rpm[0] == pytest.approx(1200.0, rel=0.05)
    assert rows.speed_rpm[-1] == pytest.approx(3600.0, rel=0.05)
    assert line(rows, 1.0) == pytest.approx(20.0, rel=0.02)
    assert line(rows, 2.0) == pytest.approx(8.0, rel=0.03)
    assert np.nanmax(line(rows, -1.0)) < 1.0
    whirling = (rows.time_s > FROM_S + 1.0) & (rows.time_s < TO_S - 1.0)
    near = np.nanmax(rows.amplitude_um[:, np.abs(rows.frequency - 0.46) < 0.05], axis=1)
    assert near[whirling].min() > 9.0
    assert near[rows.time_s < FROM_S - 1.0].max() < 2.0


def test_clockwise_forward_is_positive_too() -> None:
    setup = setup_of(rotation="cw")
    rows = rows_of(whirl(rotation=-1.0), CascadeChoice(rows=20), setup)
    assert rows is not None
    assert line(rows, 1.0) == pytest.approx(20.0, rel=0.02)


def test_in_hz_orders_move_with_speed() -> None:
    choice = CascadeChoice(axis="hz", highest=150.0, rows=30, two_sided=False)
    rows = rows_of(whirl(), choice, probes=("X",))
    assert rows is not None
    assert rows.seconds is not None
    assert rows.frequency[0] == 0.0
    strongest = rows.frequency[np.argmax(rows.amplitude_um, axis=1)]
    assert np.abs(strongest - rows.speed_rpm / 60.0).max() < 3.0 * rows.frequency[1]


def test_against_time_rows_are_even() -> None:
    rows = rows_of(whirl(), CascadeChoice(against="time", rows=40))
    assert rows is not None
    assert np.ptp(np.diff(rows.time_s)) < 1e-9
    assert rows.against == "time"


def test_without_a_reference_there_is_none() -> None:
    bare = setup_of(reference=False)
    assert rows_of(whirl(), CascadeChoice(), bare) is None


class TestNonSynchronous:
    def test_a_whirl_is_found_with_order_direction_and_duration(self) -> None:
        (one,) = components(whirl())
        assert one.order == pytest.approx(0.46, abs=0.005)
        assert one.precession == "forward"
        assert one.words == "forward, 0.46 of speed"
        assert one.amplitude_um == pytest.approx(12.0, rel=0.05)
        assert one.against_um == pytest.approx(2.0, rel=0.15)
        assert one.from_s == pytest.approx(FROM_S, abs=1.0)
        assert one.to_s == pytest.approx(TO_S, abs=1.0)
        # Its order stays while its frequency moves with the speed.
        assert one.order_spread < 0.02
        assert one.frequency_spread_hz > 4.0

    def test_backward_is_told(self) -> None:
        (found,) = components(whirl(forward=0.0, backward=5.0))
        assert found.precession == "backward"
        assert consistent_with(found) is None

    def test_a_line_at_constant_frequency_keeps_it(self) -> None:
        (found,) = components(whirl(order=None, hertz=14.3))
        assert found.frequency_hz == pytest.approx(14.3, abs=0.3)
        assert found.frequency_spread_hz < 1.0
        assert found.order_spread > 0.05

    def test_nothing_is_found_where_there_is_nothing(self) -> None:
        assert components(whirl(forward=0.0, backward=0.0)) == ()

    def test_remarks_are_hedged_and_name_their_source(self) -> None:
        (found,) = components(whirl())
        remark = consistent_with(found)
        assert remark is not None
        assert "can be consistent with" in remark
        assert "from memory" in remark
        locked = consistent_with(found, (found.frequency_hz * 60.0,))
        assert locked is not None
        assert "whip" in locked
        assert consistent_with(replace(found, order=0.3)) is None

    def test_rows_against_speed_are_refused(self) -> None:
        capture = whirl()
        turns = find_turns(capture, SETUP, capture.span)
        probes = tuple(SETUP.probe)
        rows = cascade(capture, SETUP, turns, probes, CascadeChoice(rows=10))
        assert rows is not None
        with pytest.raises(ValueError, match="against time"):
            non_synchronous(rows)
