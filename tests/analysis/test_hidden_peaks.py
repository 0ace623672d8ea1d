"""What a cut takes from p-p, and what is known of it afterwards."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.model.position_results import HiddenPeak
from analysis.model.span import TimeSpan
from analysis.rotor.hidden_peaks import hidden_peak, order_shares, trusted_gap

SPAN = TimeSpan(0.0, 1.0)
NOISE_UM = 0.2


def trial(
    random: np.random.Generator, share: float, *, cut: bool
) -> tuple[HiddenPeak | None, float]:
    """Six turns of 80 µm p-p with a share of it beyond what is trusted; the true p-p.

    The calm turns before had the same orders, but less 1X.
    """
    per_turn = int(random.choice([48, 98, 256]))
    turns = np.arange(6 * per_turn) / per_turn
    orders = int(random.choice([1, 2, 3, 5, 8]))
    sizes = random.normal(size=orders) / np.arange(1, orders + 1) ** random.choice([1.0, 1.5, 2.0])
    sizes[0] = max(abs(sizes[0]), 0.3)
    phases = random.random(orders)

    def swing(sizes: np.ndarray) -> np.ndarray:
        n = np.arange(1, orders + 1)[:, None]
        return (sizes[:, None] * np.cos(2.0 * np.pi * (n * turns + phases[:, None]))).sum(axis=0)

    sizes = sizes * 80.0 / np.ptp(swing(sizes))
    calm_sizes = sizes.copy()
    calm_sizes[0] *= random.uniform(0.4, 1.0)
    gap = swing(sizes)
    level = gap.max() - 80.0 * share
    read = np.minimum(gap, level) if cut else gap
    read = read + NOISE_UM * random.standard_normal(len(turns))
    calm = swing(calm_sizes) + NOISE_UM * random.standard_normal(len(turns))
    shares = order_shares(calm, turns)
    assert shares is not None
    return hidden_peak(read, turns, read < level - 4.0 * NOISE_UM, SPAN, shares), float(np.ptp(gap))


@pytest.mark.parametrize("share", [0.03, 0.1, 0.2, 0.3])
def test_what_was_cut_off_is_found_again(share: float) -> None:
    """A cut of 3 to 30 % of the p-p: the loss is seen, and given within a few per cent of p-p."""
    random = np.random.default_rng(11)
    results = [trial(random, share, cut=True) for _ in range(200)]
    found = [(hidden, true) for hidden, true in results if hidden is not None]
    assert len(found) >= 190
    errors = np.array([hidden.estimated_um - true for hidden, true in found])
    read = np.array([hidden.read_um - true for hidden, true in found])
    # The reading itself lacks the share (but for noise, which adds to any p-p).
    assert np.median(read) == pytest.approx(-80.0 * share, abs=1.0)
    assert abs(np.median(errors)) < 0.4
    assert np.percentile(np.abs(errors), 90) < 0.02 * 80.0 + 0.15 * 80.0 * share
    assert np.mean([hidden.is_clear for hidden, _ in found]) > 0.9
    within = [abs(e) < 4.0 * h.deviation_um for e, (h, _) in zip(errors, found, strict=True)]
    assert np.mean(within) > 0.93


@pytest.mark.parametrize("share", [0.03, 0.1, 0.2, 0.3])
def test_nothing_is_missed_where_nothing_was_cut(share: float) -> None:
    random = np.random.default_rng(12)
    claims = [trial(random, share, cut=False)[0] for _ in range(400)]
    clear = [hidden for hidden in claims if hidden is not None and hidden.is_clear]
    assert len(clear) <= 2
    lost = [hidden.lost_um for hidden in claims if hidden is not None]
    assert abs(np.median(lost)) < 0.5


def test_no_estimate_without_ground_to_stand_on() -> None:
    turns = np.arange(600) / 100.0
    gap = 40.0 * np.cos(2.0 * np.pi * turns)
    shares = order_shares(gap, turns)
    assert shares is not None
    assert hidden_peak(gap, turns, np.ones(600, dtype=bool), SPAN, shares) is None
    assert hidden_peak(gap, turns, gap < -25.0, SPAN, shares) is None  # a fifth of the samples
    assert hidden_peak(gap[:60], turns[:60], gap[:60] < 30.0, SPAN, shares) is None
    few = slice(None, None, 20)  # five samples a turn
    assert hidden_peak(gap[few], turns[few], gap[few] < 30.0, SPAN, shares) is None
    assert order_shares(gap[few], turns[few]) is None
    assert order_shares(np.zeros(600), turns) is None


def test_order_shares_are_amplitudes_over_half_the_peak_to_peak() -> None:
    turns = np.arange(600) / 100.0 + 0.3
    gap = 900.0 + 30.0 * np.cos(2.0 * np.pi * turns) + 6.0 * np.sin(6.0 * np.pi * turns + 0.4)
    shares = order_shares(gap, turns)
    assert shares is not None
    half = np.ptp(gap) / 2.0
    wanted = np.zeros(10)
    wanted[0], wanted[2] = 30.0 / half, 6.0 / half
    assert shares == pytest.approx(wanted, abs=1e-9)


def test_trusted_gaps_keep_off_the_ends() -> None:
    gap = np.array([250.0, 290.0, 291.0, 2239.0, 2240.0, 2280.0, np.nan])
    wanted = [False, False, True, True, False, False, False]
    assert trusted_gap(gap, (250.0, 2280.0)).tolist() == wanted
    assert trusted_gap(gap, None).tolist() == [True] * 6 + [False]
