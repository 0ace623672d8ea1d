"""Cuts of a waveform: found where they are, and not where they are not."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from analysis.model.capture import ArraySource, Channel
from analysis.model.position_results import Clip
from analysis.model.setup import Probe
from analysis.rotor.clipping import Recorder, clips_in, is_wall, noise_sd, off_cuts, over_turns
from tests.analysis.synthetic import SCALE

PROBE = Probe(
    name="X",
    angle_deg=45.0,
    scale_factor_mv_per_um=1000.0 * SCALE,
    linear_range_um=(250.0, 2280.0),
    fault_v=(-22.0, -0.5),
)
STEP = 0.001
RECORDER = Recorder(STEP, -32.768, 32.767)


def turning(
    random: np.random.Generator,
    *,
    per_turn: float = 98.0,
    turns: int = 8,
    orders: int = 3,
    decay: float = 1.5,
    p2p_um: float = 80.0,
) -> np.ndarray:
    """Swing of a gap about its mean, µm: orders of random size and phase, of a given p-p."""
    t = np.arange(round(per_turn * turns)) / per_turn + random.random()
    swing = np.zeros_like(t)
    for n in range(1, orders + 1):
        swing += random.normal() / n**decay * np.cos(2.0 * np.pi * (n * t + random.random()))
    return swing * p2p_um / np.ptp(swing)


def volts_of(gap_um: np.ndarray, step: float = STEP) -> np.ndarray:
    volts = -SCALE * gap_um
    return np.rint(volts / step) * step if step else volts


def test_no_false_alarms_over_many_random_waveforms() -> None:
    """Clean waveforms of all kinds: at most one in a thousand may be taken for a cut one."""
    random = np.random.default_rng(56)
    kinds = list(
        product([16.0, 33.0, 98.0, 256.0, 1000.0], [1, 2, 3, 5, 10, 20], [0.0, 0.5, 1.0, 2.0])
    )
    tried = alarms = 0
    for _ in range(20):
        for per_turn, orders, decay in kinds:
            p2p, noise = random.choice([6.0, 40.0, 120.0]), random.choice([0.0, 0.05, 0.2, 1.0])
            step = random.choice([0.0, 0.001, 0.005])
            swing = turning(random, per_turn=per_turn, orders=orders, decay=decay, p2p_um=p2p)
            gap = 1265.0 + swing + noise * random.standard_normal(len(swing))
            # Half the recorders do not say what their step is.
            recorder = Recorder(random.choice([0.0, step]), -32.768, 32.767)
            alarms += bool(clips_in(volts_of(gap, step), PROBE, recorder))
            tried += 1
    assert tried == 2400
    assert alarms <= 2


@pytest.mark.parametrize("end", ["near", "far"])
@pytest.mark.parametrize("noise_after", [True, False])
@pytest.mark.parametrize(
    ("share", "noise_um", "least"),
    [(0.05, 0.05, 0.9), (0.1, 0.05, 0.95), (0.1, 0.2, 0.9), (0.2, 0.2, 0.95), (0.2, 0.5, 0.9)],
)
def test_crests_cut_level_are_found(
    end: str, noise_after: bool, share: float, noise_um: float, least: float
) -> None:
    """A share of the p-p is cut off at one end: found there and only there, at that level."""
    random = np.random.default_rng(7)
    found = 0
    for _ in range(120):
        swing = turning(random)
        noise = noise_um * random.standard_normal(len(swing))
        gap = 1265.0 + swing + (0.0 if noise_after else noise)
        level = 1265.0 + (
            swing.max() - share * 80.0 if end == "far" else swing.min() + share * 80.0
        )
        gap = np.minimum(gap, level) if end == "far" else np.maximum(gap, level)
        gap = gap + (noise if noise_after else 0.0)
        clips = clips_in(volts_of(gap), PROBE, RECORDER)
        assert all(clip.end == end for clip in clips)
        if clips:
            found += 1
            assert clips[0].cause == "flattened"
            assert clips[0].level_um == pytest.approx(level, abs=0.15 + 2.0 * noise_um)
            assert 0.0 < clips[0].share < 0.8
            assert clips[0].crests >= 3
    assert found >= least * 120


def test_a_crest_that_is_only_broad_is_no_cut() -> None:
    """cos - cos 3/9: no curvature at the top, the broadest crest that two orders can make."""
    theta = 2.0 * np.pi * np.arange(800) / 100.0
    swing = 40.0 * (np.cos(theta) - np.cos(3.0 * theta) / 9.0)
    for noise in (0.0, 0.2):
        random = np.random.default_rng(4)
        gap = 1265.0 + swing + noise * random.standard_normal(len(swing))
        assert clips_in(volts_of(gap), PROBE, RECORDER) == ()


@pytest.mark.parametrize("count", [-32768, 32767])
def test_the_converter_s_ends(count: int) -> None:
    """Samples at the end of their type need no shape: found with few samples a turn, too."""
    for per_turn in (9.0, 98.0):
        t = np.arange(400) / per_turn
        level = count * 0.0005  # -16.384 V: 2080.8 µm; the other end is above 0 V
        volts = level + np.sign(count) * (0.05 - 0.3 * (1.0 - np.cos(2.0 * np.pi * t)))
        counts = np.clip(np.rint(volts / 0.0005), -32768, 32767).astype(np.int16)
        channel = Channel("X", 8192.0, ArraySource(counts), volts_per_count=0.0005)
        probe = PROBE.model_copy(update={"fault_v": None})
        (clip,) = clips_in(channel.volts(0, len(counts)), probe, Recorder.of(channel))
        assert clip.cause == "converter"
        assert clip.end == ("far" if count < 0 else "near")
        assert clip.level_v == pytest.approx(level)
        assert clip.level_um == pytest.approx(-level / SCALE)
        assert clip.share == pytest.approx(float(np.mean(counts == count)))


def test_one_sample_at_the_converter_s_end_is_no_cut() -> None:
    counts = np.rint(-20000 + 500 * np.cos(np.arange(900) / 7.0)).astype(np.int16)
    counts[333] = -32768
    channel = Channel("X", 8192.0, ArraySource(counts), volts_per_count=0.0005)
    assert clips_in(channel.volts(0, 900), PROBE, Recorder.of(channel)) == ()


def test_recorders_with_a_point_have_no_ends() -> None:
    channel = Channel("X", 8192.0, ArraySource(np.zeros(4, dtype=np.float32)))
    assert Recorder.of(channel) == Recorder()


@pytest.mark.parametrize(("mean_v", "end"), [(-21.8, "far"), (-0.8, "near")])
def test_peaks_beyond_the_fault_limit(mean_v: float, end: str) -> None:
    volts = mean_v + 0.5 * np.cos(2.0 * np.pi * np.arange(800) / 98.0)
    (clip,) = clips_in(volts, PROBE, RECORDER)
    assert (clip.cause, clip.end) == ("fault_limit", end)
    assert clip.level_v == (-22.0 if end == "far" else -0.5)
    beyond = (volts < -22.0) | (volts > -0.5)
    assert clip.share == pytest.approx(float(np.mean(beyond)))


def test_a_dead_circuit_is_no_cut_waveform() -> None:
    for level in (0.0, -24.0):
        assert clips_in(np.full(800, level), PROBE, RECORDER) == ()
    assert clips_in(np.full(800, np.nan), PROBE, RECORDER) == ()
    assert clips_in(np.full(800, -10.0), PROBE, RECORDER) == ()  # a shaft that stands still
    assert clips_in(np.empty(0), PROBE, RECORDER) == ()


def test_dropped_samples_neither_hide_nor_make_a_cut() -> None:
    random = np.random.default_rng(5)
    swing = turning(random, per_turn=256.0)
    for level, wanted in ((swing.max() - 8.0, 1), (np.inf, 0)):
        volts = volts_of(1265.0 + np.minimum(swing, level))
        volts[700:760] = np.nan
        assert len(clips_in(volts, PROBE, RECORDER)) == wanted


@pytest.mark.parametrize("sd", [0.003, 0.05])
def test_noise_is_told_from_a_waveform(sd: float) -> None:
    random = np.random.default_rng(8)
    t = np.arange(4000) / 98.0
    wave = np.cos(2.0 * np.pi * t) + 0.3 * np.cos(6.0 * np.pi * t)
    assert noise_sd(wave + sd * random.standard_normal(4000)) == pytest.approx(sd, rel=0.1)


@pytest.mark.parametrize(("end", "way"), [("far", 1.0), ("near", -1.0)])
def test_turns_of_a_table_that_reach_the_level(end: str, way: float) -> None:
    """Level -10 V; within its tolerance of 10 mV counts, a tenth of a µm less does not."""
    clip = Clip("far" if way > 0.0 else "near", "flattened", -10.0, 10.0 / SCALE, 0.01, 5, 0.2)
    edge = (10.0 - way * 0.01) / SCALE
    found = over_turns(
        clip,
        PROBE,
        start_s=np.array([0.0, 1.0, 2.0, 3.0]),
        end_s=np.array([1.0, 2.0, 3.0, 4.5]),
        extremes_um=edge + way * np.array([-0.1, 0.1, np.nan, 1.0]),
        fault=np.array([False, False, True, False]),
    )
    assert (found.end, found.turns, found.first_s, found.seconds) == (end, 2, 1.0, 2.5)


@pytest.mark.parametrize(("end", "way"), [("far", 1.0), ("near", -1.0)])
def test_what_others_go_beyond_is_no_cut(end: str, way: float) -> None:
    """Level -10 V to within 10 mV: extremes 10 mV beyond it are noise, 30 mV beyond are none."""
    clip = Clip("far" if way > 0.0 else "near", "flattened", -10.0, 10.0 / SCALE, 0.01, 5, 0.2)
    level = 10.0 / SCALE
    within = np.full(1000, level + way * 0.01 / SCALE)
    assert is_wall(clip, PROBE, within)
    glitches = within.copy()
    glitches[::400] += way * 0.02 / SCALE
    glitches[7] = np.nan
    assert is_wall(clip, PROBE, glitches)
    glitches[::100] += way * 0.02 / SCALE
    assert not is_wall(clip, PROBE, glitches)
    assert is_wall(replace(clip, cause="fault_limit"), PROBE, glitches)


def test_two_humps_with_a_shallow_dip_are_one_crest() -> None:
    """cos - cos 2 / 3: two humps at ±41°, and between them a dip of 2 % of p-p."""
    theta = 2.0 * np.pi * np.arange(8 * 92) / 92.0
    swing = np.cos(theta) - np.cos(2.0 * theta) / 3.0
    swing *= 60.0 / np.ptp(swing)
    random = np.random.default_rng(9)
    for _ in range(200):
        gap = 1265.0 + swing + 0.2 * random.standard_normal(len(swing))
        assert clips_in(volts_of(gap), PROBE, RECORDER) == ()


def test_samples_off_the_cuts() -> None:
    clips = (
        Clip("far", "flattened", -18.0, 0.0, 0.01, 5, 0.2),
        Clip("near", "flattened", -16.0, 0.0, 0.01, 5, 0.2),
    )
    volts = np.array([-18.0, -17.995, -17.98, -17.0, -16.02, -16.0, np.nan])
    assert off_cuts(volts, clips).tolist() == [False, False, True, True, True, False, False]
