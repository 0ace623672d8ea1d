"""The samples: small, remade from their recipes bit for bit, and each with its story in it."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from analysis.files.open import open_capture
from analysis.files.setup_find import find_setup
from analysis.files.setup_read import parse_setup
from analysis.model.capture import Capture
from analysis.model.results import SpanReadings
from analysis.model.setup import Setup
from analysis.model.span import TimeSpan
from analysis.rotor.revolutions import revolution_table
from analysis.simulate.recipe import read_recipe
from analysis.simulate.scene import Scene
from analysis.simulate.synthesis import simulate
from analysis.simulate.truth import Truth
from analysis.views.readings import read_span

FOLDER = Path(__file__).parents[2] / "sample_data"
SAMPLES = ("run_up.h5", "edge_of_range.h5", "whirl.h5", "calibrator.h5", "few_turns.csv")
RADIAL = ("DE-X", "DE-Y", "NDE-X", "NDE-Y")


@cache
def opened(name: str) -> tuple[Capture, Setup]:
    capture = open_capture(FOLDER / name)
    found = find_setup(capture)
    assert found is not None
    setup, warnings = parse_setup(found.text, found.source)
    assert warnings == ()
    return capture, setup


def truth_of(name: str) -> Truth:
    return Truth(read_recipe(FOLDER / "recipes" / f"{Path(name).stem}.toml"))


def readings(name: str, start_s: float, end_s: float) -> SpanReadings:
    capture, setup = opened(name)
    return read_span(capture, setup, TimeSpan(start_s, end_s))


def test_all_of_them_are_small() -> None:
    assert sorted(p.name for p in FOLDER.iterdir() if p.suffix in (".h5", ".csv")) == sorted(
        SAMPLES
    )
    assert sum(path.stat().st_size for path in FOLDER.rglob("*")) < 12 * 1024 * 1024


@pytest.mark.parametrize("name", SAMPLES)
def test_remade_from_its_recipe_bit_for_bit(name: str) -> None:
    recipe = read_recipe(FOLDER / "recipes" / f"{Path(name).stem}.toml")
    stored, setup = opened(name)
    made = simulate(recipe)
    assert stored.warnings == ()
    assert (stored.title, stored.started_at, stored.notes) == (
        made.title,
        made.started_at,
        made.notes,
    )
    assert stored.setup_toml == made.setup_toml
    assert setup == recipe.setup
    assert set(stored.channels) == set(made.channels)
    for channel_id, fresh in made.channels.items():
        kept = stored.channels[channel_id]
        assert (kept.sample_rate_hz, kept.start_s) == (fresh.sample_rate_hz, fresh.start_s)
        if name.endswith(".csv"):  # volts, rounded well below a count
            np.testing.assert_allclose(
                kept.volts(0, len(kept)), fresh.volts(0, len(fresh)), rtol=0.0, atol=1e-9
            )
            continue
        assert kept.volts_per_count == fresh.volts_per_count
        kept_raw, fresh_raw = kept.source.read(0, len(kept)), fresh.source.read(0, len(fresh))
        assert kept_raw.dtype == fresh_raw.dtype
        assert np.array_equal(kept_raw, fresh_raw)


def test_run_up_reads_as_it_was_made() -> None:
    truth, seen = truth_of("run_up.h5"), readings("run_up.h5", 2.0, 10.0)
    assert seen.speed.mean_rpm == pytest.approx(600.0, abs=0.01)
    assert seen.notices == ()
    for name in RADIAL:
        probe, gap = seen.probes[name], seen.probes[name].gap_um
        assert gap is not None
        assert gap.value == pytest.approx(truth.mean_gap_um(name, 5.0), abs=0.1)
        for order in (1, 2):
            assert probe.vectors[order].vector == pytest.approx(
                truth.vector(name, order, 5.0), abs=0.03
            )


def test_run_up_passes_a_critical_speed_that_trips_a_short_delay_only() -> None:
    capture, setup = opened("run_up.h5")
    table = revolution_table(capture, setup, capture.span)
    assert table.notices == ()
    pp = table.probes["DE-X"].peak_to_peak_um
    trip = next(x for x in setup.limits_of("DE-X") if x.level == "trip")
    beyond = pp >= trip.above
    for stretch in ((table.end_s < 80.0), (table.start_s > 95.0)):
        times = table.start_s[beyond & stretch]
        # With one delay of 1 s it trips, with one of 2 s it does not.
        assert 1.15 < times[-1] - times[0] < 1.85
        assert np.all(beyond[(table.start_s >= times[0]) & (table.start_s <= times[-1])])
    at_peak = table.speed_rpm[int(np.argmax(pp))]
    assert 3050.0 < at_peak < 3250.0
    assert 125.0 < pp.max() < 140.0
    slow = pp[table.speed_rpm < 650.0]
    assert np.median(slow) < 8.0
    steady = pp[(table.start_s > 70.0) & (table.end_s < 90.0)]
    assert 40.0 < steady.mean() < 60.0


def test_run_up_amplification_is_that_of_a_bearing_rotor() -> None:
    # Half-power method, AF = Nc / (N2 - N1) at 0.707 of the peak (contract 5; API RP 684, from
    # memory), on the exact vectors less the slow roll.
    truth = truth_of("run_up.h5")
    times = np.arange(20.0, 60.0, 0.02)
    slow_roll = truth.vector("DE-X", 1, 5.0)
    amplitude = np.array([abs(truth.vector("DE-X", 1, float(t)) - slow_roll) for t in times])
    speed = np.array([truth.speed_rpm(float(t)) for t in times])
    inside = speed[amplitude >= amplitude.max() / np.sqrt(2.0)]
    factor = speed[int(np.argmax(amplitude))] / (inside[-1] - inside[0])
    assert 6.0 < factor < 9.0


def test_one_probe_is_near_the_edge_of_its_range() -> None:
    seen = readings("edge_of_range.h5", 0.0, 32.0)
    edge = seen.probes["NDE-X"].linear_range
    assert edge is not None
    assert edge.margin_um is not None
    assert edge.margin_um < 0.0
    assert edge.outside_fraction is not None
    assert 0.005 < edge.outside_fraction < 0.1
    for name in ("DE-X", "DE-Y", "NDE-Y"):
        margin = seen.probes[name].linear_range
        assert margin is not None
        assert margin.outside_fraction == 0.0
    # The probe flattens: it shows less than the shaft does.
    truth = truth_of("edge_of_range.h5")
    gap = truth.gap_um("NDE-X", np.linspace(0.0, 32.0, 400_001))
    assert gap.max() > edge.max_um + 2.0


def test_whirl_starts_and_runs_forward_below_half_speed() -> None:
    capture, setup = opened("whirl.h5")
    probes = [setup.probe_named(name) for name in ("DE-X", "DE-Y")]
    scale = probes[0].scale_factor_v_per_um
    lines = {}
    for start in (2.0, 19.0):
        volts = [capture.channels[p.channel].volts_in(TimeSpan(start, start + 4.0)) for p in probes]
        # Towards X is 45° right of up, towards Y 45° left: d = x + jy turned by 45°.
        towards_x, towards_y = ((v - v.mean()) / scale for _, v in volts)
        spectrum = np.fft.fft((towards_x + 1j * towards_y) * np.hanning(len(towards_x)))
        frequency = np.fft.fftfreq(len(towards_x), 1.0 / 8192.0)
        below = np.abs(frequency) < 60.0
        lines[start] = frequency[below][int(np.argmax(np.abs(spectrum[below])))]
    assert lines[19.0] == pytest.approx(0.46 * 5200.0 / 60.0, abs=0.3)  # forward: positive
    pp = [readings("whirl.h5", a, a + 3.0).probes["DE-X"].peak_to_peak_max_um for a in (2.0, 21.0)]
    assert pp[0] is not None
    assert pp[1] is not None
    assert pp[0] < 50.0
    assert pp[1] > 95.0


def test_calibrator_shows_position_and_vibration() -> None:
    for step in range(9):
        seen = readings("calibrator.h5", 3.0 * step + 0.5, 3.0 * step + 2.4).probes["DE-X"]
        assert seen.gap_um is not None
        # The setup's nominal line, against a probe that is a little off it.
        assert seen.gap_um.value == pytest.approx(250.0 + 250.0 * step, abs=25.0)
    for step in range(5):
        seen = readings("calibrator.h5", 31.0 + 5.0 * step, 34.0 + 5.0 * step).probes["DE-X"]
        assert seen.peak_to_peak_um is not None
        assert seen.peak_to_peak_um.value == pytest.approx(25.0 * (step + 1), abs=2.5)


@pytest.mark.parametrize("name", ["run_up", "edge_of_range", "whirl", "few_turns"])
def test_no_shaft_leaves_its_bearing(name: str) -> None:
    recipe = read_recipe(FOLDER / "recipes" / f"{name}.toml")
    scene = Scene(recipe)
    times = np.arange(0.0, recipe.duration_s, 1.0 / 1024.0)
    for plane in recipe.setup.plane:
        if plane.name not in scene.shafts:
            continue
        assert plane.clearance_um is not None
        shaft, radius = scene.shafts[plane.name], plane.clearance_um / 2.0
        # It rests at the bottom: the centre of the bearing is one radius above.
        from_centre = shaft.mean_from_rest(times) + shaft.vibration(times) - 1j * radius
        assert np.abs(from_centre).max() < radius
