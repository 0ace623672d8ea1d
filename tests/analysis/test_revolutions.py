"""The revolution table on captures as they come: every type, odd stretches, threads, cancelling."""

from __future__ import annotations

import threading

import numpy as np
import pytest

from analysis.files.hdf5_write import write_hdf5
from analysis.files.open import open_capture
from analysis.jobs import JobCancelled
from analysis.model.capture import ArraySource, Capture, Channel
from analysis.model.setup import Probe, Setup
from analysis.rotor import revolutions
from analysis.rotor.gap import gap_from_volts, volts_from_gap
from analysis.rotor.gap_samples import gap_of_samples
from analysis.rotor.revolutions import revolution_table
from analysis.rotor.vectors import vector_from
from tests.analysis.synthetic import X, Y, capture_of, pulses, ramp, setup_of, steady

SETUP = setup_of()


def worst_vector(table, name: str, truth) -> float:
    """Largest error of a revolution's vectors, as a share of their amplitude."""
    return max(
        float(np.nanmax(np.abs(table.probes[name].vectors[n] / vector_from(*expected) - 1.0)))
        for n, expected in truth.orders.items()
    )


def stored_as(capture: Capture, dtype: str) -> Capture:
    """The same capture with its probes in counts or floats of another type."""
    channels = dict(capture.channels)
    for name in ("X", "Y"):
        channel = channels[name]
        volts = channel.volts(0, len(channel))
        if dtype.startswith("int"):
            per_count, offset = (0.0004, -9.0) if dtype == "int16" else (1e-8, -9.0)
            raw = np.round((volts - offset) / per_count).astype(dtype)
            source = ArraySource(raw)
            channels[name] = Channel(name, channel.sample_rate_hz, source, 0.0, per_count, offset)
        else:
            source = ArraySource(volts.astype(dtype))
            channels[name] = Channel(name, channel.sample_rate_hz, source)
    return Capture(dtype, channels)


@pytest.mark.parametrize("dtype", ["int16", "int32", "float32", "float64"])
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_every_stored_type_gives_the_same_table(dtype, sign):
    capture = stored_as(capture_of(ramp(1500.0, 4500.0, 6.0), 6.0, 10_240.0), dtype)
    if sign < 0 and dtype.startswith("int"):
        # Counts that run the other way: volts = raw * (-k) + offset.
        flipped = {
            name: Channel(
                name,
                c.sample_rate_hz,
                ArraySource(-c.source.read(0, len(c))),
                0.0,
                -c.volts_per_count,
                c.volts_offset,
            )
            for name, c in capture.channels.items()
        }
        capture = Capture("flipped", flipped)
    table = revolution_table(capture, SETUP, capture.span)
    assert worst_vector(table, "X", X) < 0.01
    assert worst_vector(table, "Y", Y) < 0.01
    assert table.probes["X"].gap_um == pytest.approx(np.full(len(table), X.gap_um), abs=0.2)
    pp = table.probes["X"].peak_to_peak_um
    assert pp == pytest.approx(np.full(len(table), X.peak_to_peak), rel=0.01)


def test_chunked_and_contiguous_files_read_alike(tmp_path):
    capture = stored_as(capture_of(steady(3000.7), 5.0, 10_240.0), "int16")
    write_hdf5(tmp_path / "plain.h5", capture, compression=None)
    write_hdf5(tmp_path / "packed.h5", capture, compression="gzip")
    tables = []
    for name in ("plain.h5", "packed.h5"):
        opened = open_capture(tmp_path / name)
        tables.append(revolution_table(opened, SETUP, opened.span))
        opened.close()
    for name in ("X", "Y"):
        a, b = (t.probes[name] for t in tables)
        assert np.array_equal(a.vectors[1], b.vectors[1])
        assert np.array_equal(a.max_um, b.max_um)


def test_threads_change_nothing(monkeypatch):
    capture = capture_of(ramp(600.0, 6000.0, 30.0), 30.0, 10_240.0, noise_um=1.0)
    alone = revolution_table(capture, SETUP, capture.span)
    monkeypatch.setattr(revolutions, "_FEW_BLOCKS", 0)
    together = revolution_table(capture, SETUP, capture.span)
    assert np.array_equal(alone.probes["Y"].vectors[2], together.probes["Y"].vectors[2])
    assert np.array_equal(alone.probes["Y"].gap_um, together.probes["Y"].gap_um)


class StopAt:
    """Progress that stops the job at a share done."""

    def __init__(self, share: float) -> None:
        self.share = share

    def report(self, fraction: float, what: str = "") -> None:
        if fraction >= self.share:
            raise JobCancelled


@pytest.mark.parametrize("few", [0, 10**9])
def test_it_stops_where_it_is_told_and_leaves_no_thread(monkeypatch, few):
    monkeypatch.setattr(revolutions, "_FEW_BLOCKS", few)
    capture = capture_of(ramp(600.0, 6000.0, 30.0), 30.0, 10_240.0)
    with pytest.raises(JobCancelled):
        revolution_table(capture, SETUP, capture.span, progress=StopAt(0.4))
    assert not [t for t in threading.enumerate() if t.name.startswith("revolutions")]


def test_a_calibration_table_bends_the_waveform_as_it_should():
    # A chain that loses slope towards the far end; the table knows, so the gap comes out true.
    table = [[250.0, -2.0], [750.0, -6.0], [1250.0, -9.8], [1750.0, -13.2], [2250.0, -16.0]]
    probes = [
        {"name": "X", "angle_deg": 45.0, "calibration": table, "scale_factor_mv_per_um": 7.874},
        {"name": "Y", "angle_deg": -45.0, "scale_factor_mv_per_um": 7.874},
    ]
    setup = Setup.model_validate({"phase_reference": {"channel": "REF"}, "probe": probes})
    made = capture_of(steady(3000.7), 2.0, 10_240.0)
    times = np.arange(20_480) / 10_240.0
    gap = X.gap_um - X.displacement(2.0 * np.pi * steady(3000.7)(times))
    volts = volts_from_gap(gap, setup.probe[0])
    assert gap_from_volts(volts, setup.probe[0]) == pytest.approx(gap)
    channels = {**made.channels, "X": Channel("X", 10_240.0, ArraySource(volts))}
    table_read = revolution_table(Capture("bent", channels), setup, made.span)
    assert worst_vector(table_read, "X", X) < 0.005
    mean_volts = np.mean(volts)
    assert table_read.probes["X"].gap_v == pytest.approx(
        np.full(len(table_read), mean_volts), abs=0.01
    )


def test_a_reference_that_drops_out_for_a_while():
    capture = capture_of(steady(3000.0), 6.0, 8000.0)
    volts = capture.channels["REF"].volts(0, 48_000)
    volts[16_000:28_000] = -4.0  # 2.0 to 3.5 s: no pulses
    broken = Capture(
        "drop-out", {**capture.channels, "REF": Channel("REF", 8000.0, ArraySource(volts))}
    )
    table = revolution_table(broken, SETUP, broken.span)
    assert table.speed_rpm == pytest.approx(np.full(len(table), 3000.0), rel=0.002)
    inside = (table.start_s > 2.03) & (table.end_s < 3.47)
    assert not inside.any()
    assert 215 < len(table) < 226
    assert worst_vector(table, "X", X) < 0.01
    # What is left out is told: nobody shall take the gap for a standstill.
    assert any("no pulses" in notice or "gap" in notice for notice in table.notices)


def test_one_revolution_and_none():
    capture = capture_of(steady(3000.0, first_turn=0.9), 0.026, 20_000.0)
    one = revolution_table(capture, SETUP, capture.span)
    assert len(one) == 1
    assert one.speed_rpm[0] == pytest.approx(3000.0, rel=1e-3)
    assert worst_vector(one, "X", X) < 0.01
    assert len(revolution_table(capture, SETUP, type(capture.span)(0.0, 0.001))) == 0


def test_a_shaft_that_stops_and_rocks_back():
    # Coast-down to rest, then a third of a turn backwards: nothing there is a revolution.
    times = np.arange(int(30.0 * 5000)) / 5000.0
    down = 20.0 * times - times**2 / 2.0  # 20 turns a second, losing one each second
    still = np.where(times < 20.0, down, 200.0)
    rock = np.where(times > 21.0, 0.17 * (1.0 - np.cos(np.minimum(times - 21.0, 3.0) * 2.1)), 0.0)
    turns = 0.1 + still - rock
    theta = 2.0 * np.pi * turns
    gap = X.gap_um - X.displacement(theta)
    channels = {
        "X": Channel("X", 5000.0, ArraySource(-0.007874 * gap)),
        "REF": Channel("REF", 5000.0, ArraySource(pulses(turns))),
    }
    capture = Capture("stop", channels)
    table = revolution_table(capture, SETUP, capture.span)
    middle = (table.start_s + table.end_s) / 2.0
    running = middle < 17.0
    true = 60.0 * (20.0 - middle[running])
    assert table.speed_rpm[running] == pytest.approx(true, rel=0.005)
    assert np.all(table.speed_rpm > 0.0)
    assert np.all(table.end_s > table.start_s)
    assert np.all(np.diff(table.start_s) > 0.0)


def test_marks_unevenly_spaced_around_the_shaft():
    # Three marks a turn, not at 120°: a turn is still from each third event to the next.
    times = np.arange(40_000) / 10_000.0
    share = np.mod(30.0 * times, 1.0)
    volts = np.full(len(times), -4.0)
    for at in (0.0, 0.25, 0.6):
        volts[(share >= at) & (share < at + 0.05)] = -12.0
    theta = 2.0 * np.pi * 30.0 * times
    channels = {
        "X": Channel("X", 10_000.0, ArraySource(-0.007874 * (X.gap_um - X.displacement(theta)))),
        "REF": Channel("REF", 10_000.0, ArraySource(volts)),
    }
    setup = setup_of(phase_reference={"channel": "REF", "events_per_turn": 3})
    table = revolution_table(Capture("marks", channels), setup, Capture("m", channels).span)
    assert len(table) in (118, 119)
    assert table.speed_rpm == pytest.approx(np.full(len(table), 1800.0), rel=0.002)


def test_too_few_samples_for_the_orders_still_tell_the_mean():
    # Eight samples a turn for five unknowns: where the shaft sits is known, its orders are not.
    times = np.arange(4000) / 400.0
    fast = np.arange(80_000) / 8000.0
    theta = 2.0 * np.pi * (0.37 + 50.0 * times)
    gap = X.gap_um - X.displacement(theta)
    channels = {
        "X": Channel("X", 400.0, ArraySource(-0.007874 * gap)),
        "REF": Channel("REF", 8000.0, ArraySource(pulses(0.37 + 50.0 * fast))),
    }
    capture = Capture("slow channel", channels)
    table = revolution_table(capture, SETUP, capture.span)
    probe = table.probes["X"]
    assert probe.gap_um == pytest.approx(np.full(len(table), X.gap_um), abs=2.0)
    assert np.isnan(probe.vectors[1]).all()
    assert not probe.fault.any()


@pytest.mark.parametrize("kind", ["int16", "int32", "float32"])
def test_a_bent_curve_reads_the_same_from_any_samples(kind):
    # Gaps of two-byte samples come from a table of all there can be.
    random = np.random.default_rng(6)
    raw = random.integers(-(1 << 15), 1 << 15, 5000).astype(kind)
    raw[:2] = -(1 << 15), (1 << 15) - 1
    for stored in (raw, raw.astype(raw.dtype.newbyteorder(">"))):
        channel = Channel("X", 1000.0, ArraySource(stored), 0.0, 3e-4, -9.0)
        table = ((250.0, -1.97), (1250.0, -10.0), (2280.0, -17.0))
        probe = Probe(name="X", calibration=table)
        gap = gap_of_samples(channel, probe)
        np.testing.assert_array_equal(gap(stored), gap_from_volts(channel.to_volts(stored), probe))
    assert gap_of_samples(channel, Probe(name="X", scale_factor_mv_per_mil=200.0)) is None
