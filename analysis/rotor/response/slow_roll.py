"""Slow roll: what a probe sees of a shaft that turns too slowly to vibrate, and taking it off.

At low speed the signal is runout: the track's shape, its electrical unevenness, a bow. It repeats
with the shaft angle and is taken off as a complex vector of each order, or as a whole waveform over
the shaft angle, never as an amplitude.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from analysis.model.response_results import Doubt, ResponsePoints, SlowRoll
from analysis.model.results import Bools, Complexes, Floats

from .passages import smoothed_speed

LEAST_REVOLUTIONS = 5
"""Fewer revolutions say nothing of their own scatter."""

_BAND = 0.15
"""Revolutions up to this share above the lowest speed are looked at for a proposal."""

_WIDEST_BAND = 0.6
"""… and up to this share where there are too few of them."""

_AROUND = 0.03
"""Revolutions within this share of a speed that was asked for are taken."""

_NEAREST = 0.1
"""… or around the nearest speed that there is, when that is no further off than this."""

_STEADY_SHARE = 0.15
_STEADY_UM = 1.0
"""The vector may change by this share of itself, or this many µm p-p, and still be called steady
(common practice)."""

_ERROR_SHARE = 0.01
_CHANGE_SHARE = 0.02
"""What the vector may be off by, and what of it may be vibration, as shares of the largest 1X of
the run: beside that neither matters (common practice)."""

_RISE_BAND = 1.5
"""A proposal is tried against the speeds up to this many times its own."""

_LOW_SHARE = 0.4
"""Slow roll lies below this share of the speed at which 1X is largest (common practice)."""


@dataclass(frozen=True)
class Refused:
    """No slow-roll vector is proposed: why."""

    reason: Doubt


def propose(points: ResponsePoints) -> SlowRoll | Refused:
    """The vector at the lowest speeds, when it is steady there.

    Refused where the lowest speed is too near to where 1X is largest, where there are too few
    revolutions, where they scatter, or where the vector already changes with speed.
    """
    speed = smoothed_speed(points)
    valid = np.isfinite(speed) & np.isfinite(points.vectors) & (speed > 0.0)
    if np.count_nonzero(valid) < LEAST_REVOLUTIONS:
        return _refused("too-few", "there are too few revolutions with a vector")
    lowest = float(speed[valid].min())
    highest = float(speed[valid].max())
    if highest < 1.3 * lowest:
        return _refused(
            "one-speed",
            f"the speed stays between {lowest:.0f} and {highest:.0f} r/min: at one speed runout "
            f"cannot be told from vibration",
        )
    near = valid & (speed <= (1.0 + _BAND) * lowest)
    if np.count_nonzero(near) < LEAST_REVOLUTIONS:
        # A fast run has few turns there: the lowest ones, while they are slow enough to be alike.
        lowest_few = np.sort(speed[valid])[LEAST_REVOLUTIONS - 1]
        near = valid & (speed <= min(float(lowest_few), (1.0 + _WIDEST_BAND) * lowest))
    if np.count_nonzero(near) < LEAST_REVOLUTIONS:
        return _refused(
            "too-few",
            f"only {np.count_nonzero(near)} revolutions lie near the lowest speed of "
            f"{lowest:.0f} r/min",
        )
    found = _mean(points, speed, near, "proposed")
    unfit = _why_unfit(found, points.vectors, speed, valid)
    if unfit is not None and unfit.flag == "not-steady":
        # More turns make the mean of noisy ones surer.
        near = valid & (speed <= (1.0 + _WIDEST_BAND) * lowest)
        found = _mean(points, speed, near, "proposed")
        unfit = _why_unfit(found, points.vectors, speed, valid)
    if unfit is not None:
        return _refused(unfit.flag, unfit.sentence)
    return _with_doubts(found, points, speed, near)


def at_speed(points: ResponsePoints, speed_rpm: float) -> SlowRoll | Refused:
    """The vector at a speed that was asked for, with doubts where it is not steady.

    Refused where the points do not come near that speed.
    """
    speed = smoothed_speed(points)
    valid = np.isfinite(speed) & np.isfinite(points.vectors)
    if not valid.any():
        return _refused("too-few", "there are no revolutions with a vector")
    at = float(speed[valid][np.argmin(np.abs(speed[valid] - speed_rpm))])
    if abs(at - speed_rpm) > _NEAREST * speed_rpm:
        lowest, highest = float(speed[valid].min()), float(speed[valid].max())
        return _refused(
            "not-reached",
            f"no revolution lies within {100.0 * _NEAREST:.0f} % of {speed_rpm:g} r/min; the "
            f"speeds run from {lowest:.0f} to {highest:.0f} r/min, the nearest is {at:.0f}",
        )
    # Around the speed that was asked for, else around the nearest one that there is.
    middle = speed_rpm if abs(at - speed_rpm) <= _AROUND * speed_rpm else at
    near = valid & (np.abs(speed - middle) <= _AROUND * middle)
    found = _mean(points, speed, near, "asked")
    unfit = _why_unfit(found, points.vectors, speed, valid)
    found = _with_doubts(found, points, speed, near)
    if unfit is not None:
        found = replace(found, doubts=(*found.doubts, unfit))
    if found.revolutions < LEAST_REVOLUTIONS:
        few = Doubt("few-revolutions", f"read from {found.revolutions} revolution(s) only")
        found = replace(found, doubts=(*found.doubts, few))
    return found


def typed(order: int, vector: complex, speed_rpm: float | None = None) -> SlowRoll:
    """A vector that somebody gives, from another run or a runout check."""
    return SlowRoll(order, vector, speed_rpm, "typed", 0, None)


def compensated(points: ResponsePoints, slow_roll: SlowRoll | None) -> ResponsePoints:
    """The points with the slow-roll vector taken off, as complex numbers."""
    if slow_roll is None:
        return points
    return replace(points, vectors=points.vectors - slow_roll.vector)


def runout_waveform(theta: Floats, displacement: Floats, points: int = 512) -> Floats:
    """Mean displacement over the shaft angle at slow roll: what is taken off waveforms and orbits.

    Args:
        theta: shaft angle of each sample, turns since an event, shape (n,), over whole revolutions.
        displacement: µm, positive towards the probe, shape (n,); NaN is left out.
        points: steps of a turn; step k is the mean between k and k + 1 over `points`.

    Returns:
        µm about its own mean, shape (points,). Steps that no sample fell in lie on the line between
        their neighbours.

    Raises:
        ValueError: with no finite sample.
    """
    valid = np.isfinite(theta) & np.isfinite(displacement)
    if not valid.any():
        raise ValueError("a runout waveform needs samples")
    bins = np.floor(np.mod(theta[valid], 1.0) * points).astype(np.int64) % points
    counts = np.bincount(bins, minlength=points)
    sums = np.bincount(bins, weights=displacement[valid], minlength=points)
    filled = np.flatnonzero(counts)
    mean = sums[filled] / counts[filled]
    wave: Floats = np.interp(np.arange(points), filled, mean, period=points)
    wave -= wave.mean()
    return wave


def waveform_compensated(theta: Floats, displacement: Floats, runout_um: Floats) -> Floats:
    """Displacement with the runout waveform taken off sample by sample at its shaft angle.

    Args:
        theta: shaft angle of each sample, turns since an event, shape (n,).
        displacement: µm, shape (n,).
        runout_um: of `runout_waveform`.
    """
    points = len(runout_um)
    # Each step stands for its middle.
    at = (np.arange(points) + 0.5) / points
    out: Floats = displacement - np.interp(np.mod(theta, 1.0), at, runout_um, period=1.0)
    return out


def _mean(points: ResponsePoints, speed: Floats, near: Bools, source: str) -> SlowRoll:
    vectors = points.vectors[near]
    mean = complex(vectors.mean())
    scatter = None
    if len(vectors) > 1:
        scatter = float(np.sqrt(np.sum(np.abs(vectors - mean) ** 2) / (len(vectors) - 1)))
    return SlowRoll(
        order=points.order,
        vector=mean,
        speed_rpm=float(speed[near].mean()),
        source="asked" if source == "asked" else "proposed",
        revolutions=len(vectors),
        scatter_um=scatter,
    )


def _why_unfit(found: SlowRoll, vectors: Complexes, speed: Floats, valid: Bools) -> Doubt | None:
    """What speaks against calling it slow roll, or `None`."""
    assert found.speed_rpm is not None
    at = found.speed_rpm
    size = abs(found.vector)
    allowed = max(_STEADY_SHARE * size, _STEADY_UM)
    scatter = found.scatter_um or 0.0
    error = scatter / np.sqrt(max(found.revolutions, 1))
    largest = float(np.percentile(np.abs(vectors[valid] - found.vector), 99.0))
    if error > max(0.5 * allowed, _ERROR_SHARE * largest):
        return Doubt(
            "not-steady",
            f"1X scatters by {scatter:.1f} µm p-p over {found.revolutions} revolutions at "
            f"{at:.0f} r/min, which is no steady vector",
        )
    rise: Bools = valid & (speed > 1.1 * at) & (speed <= _RISE_BAND * at)
    if rise.any():
        away = vectors[rise] - found.vector
        # Change goes with the square of speed (unbalance): brought to the slow-roll speed itself.
        share = (speed[rise] / at) ** 2
        change = complex((away * (share - 1.0)).sum() / ((share - 1.0) ** 2).sum())
        noise = 3.0 * scatter / float(np.count_nonzero(rise)) ** 0.5
        if abs(change) > max(allowed, _CHANGE_SHARE * largest) + noise:
            return Doubt(
                "changes-with-speed",
                f"1X changes with speed at {at:.0f} r/min already (about {abs(change):.1f} µm p-p "
                f"of it go with the square of the speed): this is vibration, no slow roll",
            )
    if not (valid & (speed > at)).any():
        return None
    top = int(np.argmax(np.where(valid, np.abs(vectors - found.vector), -1.0)))
    if at > _LOW_SHARE * speed[top] and speed[top] > at:
        return Doubt(
            "too-fast",
            f"{at:.0f} r/min is more than {100 * _LOW_SHARE:.0f} % of the speed at which 1X is "
            f"largest ({speed[top]:.0f} r/min)",
        )
    return None


def _with_doubts(found: SlowRoll, points: ResponsePoints, speed: Floats, near: Bools) -> SlowRoll:
    """Say where the stretches before and after the run differ (a bow that grew, a moved probe)."""
    rows = np.flatnonzero(near)
    runs = np.split(rows, np.flatnonzero(np.diff(rows) > 2 * LEAST_REVOLUTIONS) + 1)
    runs = [run for run in runs if len(run) >= LEAST_REVOLUTIONS]
    if len(runs) < 2:
        return found
    first, last = (complex(points.vectors[run].mean()) for run in (runs[0], runs[-1]))
    allowed = max(_STEADY_SHARE * abs(found.vector), _STEADY_UM)
    if abs(last - first) <= allowed:
        return found
    doubt = Doubt(
        "before-and-after-differ",
        f"slow roll before and after the run differ by {abs(last - first):.1f} µm p-p: the mean "
        f"of both is taken off (a bow, or something that moved)",
    )
    return replace(found, doubts=(*found.doubts, doubt))


def _refused(flag: str, sentence: str) -> Refused:
    return Refused(Doubt(flag, f"no slow-roll vector: {sentence}"))
