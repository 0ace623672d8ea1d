"""Runout as a whole waveform: measured at slow roll, taken off at speed, kept in a setup."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.files.setup_read import parse_setup
from analysis.files.setup_write import updated_toml
from analysis.model.capture import ArraySource, Capture, Channel
from analysis.model.response_results import Runout
from analysis.model.setup import Setup
from analysis.rotor.response.runout import order_vector, wave_of
from analysis.rotor.revolutions import revolution_table
from analysis.rotor.vectors import vector_from
from analysis.views.moment import answer_moment
from analysis.views.moment_request import MomentRequest
from analysis.views.runout import (
    kept_runout,
    measured_runout,
    setup_with,
    vectors_of,
    vectors_to_keep,
)
from tests.analysis.synthetic import pulses, volts_of

RATE = 8192.0
RPM = (480.0, 3600.0)
FAST_UM_PP = 40.0
RUNOUT = {1: vector_from(9.0, 70.0), 2: vector_from(4.0, 200.0), 5: vector_from(1.5, 10.0)}


def runout_of(turns: np.ndarray, probe: int) -> np.ndarray:
    """µm towards a probe: its orders, and a scratch 3° wide that no order of twelve can hold."""
    out = np.zeros(len(turns))
    for order, vector in RUNOUT.items():
        turned = vector * np.exp(-1j * probe * 0.7)
        out += np.real(turned / 2.0 * np.exp(2j * np.pi * order * turns))
    scratch = np.abs((turns + 0.1 * probe) % 1.0 - 0.6) < 3.0 / 720.0
    return out - 8.0 * scratch


@pytest.fixture(scope="module")
def capture() -> Capture:
    """Ten seconds of slow roll, a run-up in ten, and five at speed with a circular orbit."""
    times = np.arange(int(25 * RATE)) / RATE
    rpm = np.interp(times, [0.0, 10.0, 20.0, 25.0], [RPM[0], RPM[0], RPM[1], RPM[1]])
    turns = np.cumsum(rpm) / 60.0 / RATE + 0.31
    size = FAST_UM_PP / 2.0 * (rpm / RPM[1]) ** 4
    random = np.random.default_rng(11)
    channels = {"REF": Channel("REF", RATE, ArraySource(pulses(turns)))}
    for rank, name in enumerate(("X", "Y")):
        # Forward, rotation ccw, X at 45° right: Y lags X by 90°.
        motion = size * np.cos(2 * np.pi * turns - np.radians(30.0 + 90.0 * rank))
        gap = 1250.0 - motion - runout_of(turns, rank) + 0.1 * random.standard_normal(len(times))
        channels[name] = Channel(name, RATE, ArraySource(volts_of(gap)))
    return Capture("runout", channels)


def setup_for(events_per_turn: int = 1) -> Setup:
    probe = {"name": "X", "scale_factor_mv_per_um": 7.874, "angle_deg": 45.0}
    return Setup.model_validate(
        {
            "version": 1,
            "machine": {"rotation": "ccw"},
            "phase_reference": {"channel": "REF", "events_per_turn": events_per_turn},
            "probe": [probe, {**probe, "name": "Y", "angle_deg": -45.0}],
            "plane": [{"name": "P", "probes": ["X", "Y"]}],
        }
    )


@pytest.fixture(scope="module")
def found(capture: Capture):
    setup = setup_for()
    return measured_runout(capture, setup, revolution_table(capture, setup, capture.span))


def test_the_wave_is_the_shafts(found) -> None:
    assert not found.refused
    wave = found.waves["X"]
    assert wave.speed_rpm == pytest.approx(RPM[0], rel=0.01)
    assert wave.revolutions >= 50
    truth = runout_of((np.arange(512) + 0.5) / 512, 0)
    truth -= truth.mean()
    # At the scratch's two edges a step is half in and half out.
    away = np.abs(wave.wave_um - truth)
    assert np.quantile(away, 0.97) < 0.3
    for order, vector in RUNOUT.items():
        assert order_vector(wave, order) == pytest.approx(vector, abs=0.4)


def test_waveform_and_orbit_without_runout_are_the_motion(capture: Capture, found) -> None:
    request = MomentRequest(23.0, waveform_s=0.05)
    raw = answer_moment(capture, setup_for(), request)
    clean = answer_moment(capture, setup_for(), replace(request, runout=found.waves))
    radius = FAST_UM_PP / 2.0
    assert np.ptp(np.hypot(raw.orbit.x, raw.orbit.y)) > 8.0
    size = np.hypot(clean.orbit.x, clean.orbit.y)
    # Noise of 0.1 µm, and steps at the scratch's edges.
    assert np.abs(np.quantile(size, [0.02, 0.98]) - radius).max() < 0.8
    # All but the few samples on the scratch's edges: a sine lies so far apart at 3 % and 97 %.
    spread = [
        np.ptp(np.quantile(each.waveforms["X"].trace.y, [0.03, 0.97])) for each in (raw, clean)
    ]
    wanted = FAST_UM_PP * np.cos(0.03 * np.pi)
    assert spread[1] == pytest.approx(wanted, abs=0.6)
    assert abs(spread[0] - wanted) > 3.0
    assert clean.waveforms["X"].runout_um == pytest.approx(found.waves["X"].peak_to_peak_um)
    assert clean.waveforms["X"].mean_um == raw.waveforms["X"].mean_um
    path = np.hypot(clean.filtered_orbit.x, clean.filtered_orbit.y)
    assert np.abs(path - radius).max() < 0.4
    # The mark lies on the path: lag 30° at the event.
    mark = clean.filtered_orbit.marks_x[0], clean.filtered_orbit.marks_y[0]
    assert np.hypot(*mark) == pytest.approx(radius, abs=0.4)
    # Readings are what the probe shows.
    assert clean.readings.probes["X"].peak_to_peak_um == raw.readings.probes["X"].peak_to_peak_um
    assert dict(clean.runout) == dict(found.waves)
    assert not raw.runout


def test_long_waveforms_stay_as_measured_and_say_so(capture: Capture, found) -> None:
    request = MomentRequest(12.0, waveform_s=24.0, runout=found.waves)
    assert answer_moment(capture, setup_for(), request).waveforms["X"].runout_um is None


def test_no_runout_without_one_event_a_turn(capture: Capture) -> None:
    setup = setup_for(2)
    found = measured_runout(capture, setup, revolution_table(capture, setup, capture.span))
    assert not found.waves
    assert {doubt.flag for doubt in found.refused.values()} == {"no-angle"}


def test_a_speed_that_was_not_reached_is_refused(capture: Capture) -> None:
    setup = setup_for()
    found = measured_runout(capture, setup, revolution_table(capture, setup, capture.span), 200.0)
    assert set(found.refused) == {"X", "Y"}
    assert "200 r/min" in found.refused["X"].sentence


def test_orders_make_the_wave_and_the_wave_the_orders() -> None:
    wave = wave_of(RUNOUT)
    back = vectors_to_keep(Runout(wave, "kept"))
    assert set(back) == set(RUNOUT)
    for order, vector in RUNOUT.items():
        assert back[order] == pytest.approx(vector, rel=1e-3)


def test_what_is_kept_in_the_setup_comes_back(found) -> None:
    kept = setup_with(setup_for(), vectors_of(found.waves))
    again, _ = parse_setup(updated_toml("version = 1\n", kept), "kept")
    waves = kept_runout(again)
    assert set(waves) == {"X", "Y"}
    assert waves["X"].source == "kept"
    assert order_vector(waves["X"], 2) == pytest.approx(RUNOUT[2], abs=0.4)
    assert kept_runout(setup_for()) == {}
