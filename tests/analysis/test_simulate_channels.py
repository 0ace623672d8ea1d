"""What synthetic channels hold: marks, noise, rounding, limits, and the same bits each time."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from analysis.jobs import JobCancelled
from analysis.model.capture import Capture, Channel
from analysis.model.errors import InputError
from analysis.model.setup import PhaseReference
from analysis.model.span import TimeSpan
from analysis.simulate.mark import ShaftMark
from analysis.simulate.noise import WhiteNoise
from analysis.simulate.recipe import Recipe
from analysis.simulate.recipe_parts import Reference
from analysis.simulate.synthesis import simulate
from analysis.simulate.truth import Truth


def document(**changes: Any) -> dict[str, Any]:
    base: dict[str, Any] = {
        "title": "A pump",
        "duration_s": 2.0,
        "seed": 5,
        "speed": {"points": [[0.0, 1500.0], [2.0, 1800.0]]},
        "reference": {"sample_rate_hz": 8192.0, "noise_mv_rms": 2.0},
        "plane": [
            {"name": "P", "component": [{"order": 1.0, "forward_um_pp": 40.0}]},
        ],
        "channel": [
            {"probe": "A", "sample_rate_hz": 4096.0, "noise_um_rms": 0.3},
            {"probe": "B", "sample_rate_hz": 4096.0, "noise_um_rms": 0.3, "type": "float32"},
        ],
        "setup": {
            "version": 1,
            "phase_reference": {"channel": "REF"},
            "probe": [
                {
                    "name": name,
                    "angle_deg": angle,
                    "scale_factor_mv_per_um": 7.874,
                    "rest_gap_um": 1250.0,
                }
                for name, angle in (("A", 45.0), ("B", -45.0))
            ],
            "plane": [{"name": "P", "probes": ["A", "B"]}],
        },
    }
    return {**base, **changes}


def made(**changes: Any) -> Capture:
    return simulate(Recipe.model_validate(document(**changes)))


def raw(channel: Channel) -> np.ndarray:
    return channel.source.read(0, len(channel))


def test_the_same_recipe_gives_the_same_bits() -> None:
    first, second = made(), made()
    assert list(first.channels) == list(second.channels) == ["A", "B", "REF"]
    for name, channel in first.channels.items():
        other = second.channels[name]
        assert raw(channel).tobytes() == raw(other).tobytes()
        assert channel.volts_per_count == other.volts_per_count
        assert channel.sample_rate_hz == other.sample_rate_hz
    assert first.setup_toml == second.setup_toml


def test_another_seed_changes_the_noise_alone() -> None:
    first, second = made(), made(seed=6)
    a, b = first.channels["A"].volts(0, 8192), second.channels["A"].volts(0, 8192)
    assert not np.array_equal(a, b)
    # Twice a noise of 0.3 µm · 7.874 mV/µm, and twice the rounding of 1 mV.
    expected = np.hypot(0.3 * 7.874e-3, 1e-3 / np.sqrt(12.0)) * np.sqrt(2.0)
    assert np.std(a - b) == pytest.approx(expected, rel=0.05)


def test_samples_are_the_true_gap_in_volts() -> None:
    recipe = Recipe.model_validate(document())
    capture, truth = simulate(recipe), Truth(recipe)
    channel = capture.channels["B"]
    times, volts = channel.volts_in(TimeSpan(0.0, 2.0))
    expected = -7.874e-3 * truth.gap_um("B", times)
    assert np.std(volts - expected) == pytest.approx(0.3 * 7.874e-3, rel=0.05)
    assert abs(np.mean(volts - expected)) < 4.0 * 0.3 * 7.874e-3 / np.sqrt(len(volts))


def test_philox_is_the_published_one() -> None:
    # Known answer of Philox4x64-10 for counter 0 and key 0: Random123 (Salmon et al., SC11),
    # kat_vectors; from memory. numpy steps its counter before it uses it.
    words = np.random.Philox(key=0, counter=2**256 - 1).random_raw(4)
    assert [f"{word:016x}" for word in words] == [
        "16554d9eca36314c",
        "db20fe9d672d0fdc",
        "d7e772cee186176b",
        "7e68b68aec7ba23b",
    ]


def test_noise_is_normal_and_free_of_blocks() -> None:
    noise = WhiteNoise(3, "A")
    whole = noise.read(0, 200_000)
    pieces = [noise.read(a, b) for a, b in ((0, 1), (1, 6), (6, 65_537), (65_537, 200_000))]
    np.testing.assert_array_equal(whole, np.concatenate(pieces))
    assert abs(whole.mean()) < 4.0 / np.sqrt(len(whole))
    assert whole.std() == pytest.approx(1.0, abs=0.01)
    # Share beyond two standard deviations of a normal distribution.
    assert np.mean(np.abs(whole) > 2.0) == pytest.approx(0.0455, abs=0.003)
    assert abs(np.corrcoef(whole[:-1], whole[1:])[0, 1]) < 0.01
    assert abs(np.corrcoef(whole, WhiteNoise(3, "B").read(0, 200_000))[0, 1]) < 0.01


@pytest.mark.parametrize("edge", ["falling", "rising"])
@pytest.mark.parametrize("mark_v", [-14.0, -2.0])
@pytest.mark.parametrize("events_per_turn", [1, 3])
def test_the_named_edge_crosses_the_middle_at_zero_angle(
    edge: str, mark_v: float, events_per_turn: int
) -> None:
    reference = Reference(sample_rate_hz=1000.0, shaft_v=-8.0, mark_v=mark_v)
    setup = PhaseReference.model_validate(
        {"channel": "REF", "edge": edge, "events_per_turn": events_per_turn}
    )
    mark = ShaftMark(reference, setup)
    middle = (reference.shaft_v + mark_v) / 2.0
    at = np.arange(0, 3 * events_per_turn) / events_per_turn
    np.testing.assert_allclose(mark.volts(at), middle, atol=1e-9)
    slope = mark.volts(at + 1e-4) - mark.volts(at - 1e-4)
    assert np.all(slope < 0.0) if edge == "falling" else np.all(slope > 0.0)
    # No other crossing in that direction: one event a mark.
    turns = np.linspace(0.05, 3.05, 300_001)
    above = mark.volts(turns) > middle
    steps = np.diff(above.astype(int)) == (-1 if edge == "falling" else 1)
    assert np.count_nonzero(steps) == 3 * events_per_turn


def test_missing_and_extra_marks() -> None:
    setup = PhaseReference(channel="REF")
    reference = Reference(sample_rate_hz=1000.0, missing_marks=(2,), extra_at_turns=(3.5,))
    volts = ShaftMark(reference, setup).volts(np.array([1.01, 2.01, 3.01, 3.5 + 0.01, 4.5 + 0.01]))
    assert volts[1] == pytest.approx(reference.shaft_v)
    assert volts[4] == pytest.approx(reference.shaft_v)
    for on_mark in (0, 2, 3):
        assert volts[on_mark] < -11.0


def test_dropped_samples_and_driver_limits() -> None:
    channels = document()["channel"]
    channels[0]["volts_limits"] = [-9.9, -1.0]
    channels[0]["noise_um_rms"] = 0.0
    channels[1]["dropped_s"] = [[0.5, 0.75]]
    capture = made(channel=channels)
    assert capture.channels["A"].volts(0, 8192).min() == pytest.approx(-9.9)
    times, volts = capture.channels["B"].volts_in(TimeSpan(0.0, 2.0))
    np.testing.assert_array_equal(np.isnan(volts), (times >= 0.5) & (times < 0.75))


def test_integers_hold_at_their_ends() -> None:
    channels = document()["channel"]
    channels[0]["volts_per_count"] = 1e-4  # ±3.2767 V in 16 bits; the gap gives -9.8 V
    values = raw(made(channel=channels).channels["A"])
    assert values.dtype == np.int16
    assert np.all(values == -32768)


def test_absurd_numbers_are_an_input_error() -> None:
    setup = document()["setup"]
    setup["probe"][0]["scale_factor_mv_per_um"] = 1e308
    setup["probe"][0]["rest_gap_um"] = 1e308
    with pytest.raises(InputError, match="channel A would reach"):
        made(setup=setup)


def test_every_report_is_a_place_to_stop() -> None:
    class Stopping:
        def report(self, fraction: float, what: str = "") -> None:
            if fraction > 0.2:
                raise JobCancelled

    with pytest.raises(JobCancelled):
        simulate(Recipe.model_validate(document(duration_s=60.0)), Stopping())
