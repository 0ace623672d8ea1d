"""Whether a waveform was cut: by its converter, by the fault limit, or level for another reason.

Works on the volts as they were recorded, since that is where things are cut. Crests that are cut
look alike whatever cut them: level in the middle, with steep sides. A crest of a smooth waveform
rises and falls through its whole width instead: of a parabola, 64 % of the depth at which its width
is measured lies within the middle four fifths of that width; of a crest cut at half that width,
still half. So the mean profile of the crests tells them apart, without any model of the waveform.
Orders can make a crest that is level to within the noise, such as cos - 0.28 cos 2; no shape tells
that from a cut, but that other turns go beyond its level (`is_wall`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from analysis.model.capture import Channel
from analysis.model.position_results import Clip, ClipCause
from analysis.model.results import Bools, Floats
from analysis.model.setup import Probe

from .gap import gap_from_volts

DEPTHS: Final = (0.0125, 0.12)
"""Crests are looked at in depths below the extreme that double from the first share of p-p (or what
noise and steps leave readable) up to the second."""

MOST_UNEVEN: Final = 0.08
"""A crest is level when its mean profile varies by less than this share of the depth, and what
noise leaves in its means."""

MOST_ROUND: Final = 0.05
"""So much may the edges of a level crest lie lower than its middle, or one side of it lower than
the other, as a share of its height, and what noise leaves in the means."""

LEAST_CRESTS: Final = 3
"""One crest may have any shape; a cut repeats."""

_MIDDLE = 0.8
_BINS = 6
_LEAST_RUN = 5
_NOISE_DEPTH = 8.0
_MOST_SPREAD = 0.04
_STEP_DEPTH = 4.0
_DIP = 2.0
_GLITCHES, _GLITCH_SHARE = 3, 0.001
_MOST_BEYOND_FAULT = 0.5


@dataclass(frozen=True)
class Recorder:
    """What the recorder does to volts: its step (0: none known) and its ends, V."""

    step_v: float = 0.0
    low_v: float | None = None
    high_v: float | None = None

    @classmethod
    def of(cls, channel: Channel) -> Recorder:
        """Of a channel: the ends of its integer type. Types with a point have none."""
        dtype = channel.source.dtype
        if dtype.kind not in "iu":
            return cls()
        ends = np.iinfo(dtype)
        volts = sorted(
            int(end) * channel.volts_per_count + channel.volts_offset
            for end in (ends.min, ends.max)
        )
        return cls(abs(channel.volts_per_count), volts[0], volts[1])


def clips_in(volts: Floats, probe: Probe, recorder: Recorder) -> tuple[Clip, ...]:
    """The cuts in a stretch of samples, at most one an end.

    Args:
        volts: samples in V, shape (n,), evenly spaced; NaN where dropped.
        probe: gives `fault_v`, and the gap of a level.
        recorder: what the recorder can hold.

    A level run of fewer than five samples a crest, or within the noise, cannot be told from a
    round one: then nothing is found (as with fewer than some 20 samples a turn), except at the
    converter's ends, which need no shape.
    """
    known = np.isfinite(volts)
    if np.count_nonzero(known) < _LEAST_RUN * LEAST_CRESTS:
        return ()
    healthy = volts[known]
    noise = noise_sd(healthy)
    step = max(recorder.step_v, _step_of(healthy))
    found = []
    # More volts are a smaller gap: upward crests belong to the near end.
    for end, sign, stop, limit in (
        ("near", 1.0, recorder.high_v, probe.fault_v[1] if probe.fault_v else None),
        ("far", -1.0, recorder.low_v, probe.fault_v[0] if probe.fault_v else None),
    ):
        heights = sign * volts
        cut = _at_converter(heights, None if stop is None else sign * stop, recorder.step_v)
        cut = cut or _beyond_fault(heights, None if limit is None else sign * limit)
        cut = cut or _level_crests(np.where(known, heights, -np.inf), step, noise)
        if cut is None or (cut.cause == "fault_limit" and _dead(healthy, probe)):
            continue
        found.append(_as_clip(cut, sign, end, probe))
    return tuple(found)


def noise_sd(values: Floats) -> float:
    """Standard deviation of the noise from sample to sample, robust against what is smooth.

    The least of what differences of order 2, 4 and 6 leave: each takes a smooth waveform out
    better than the one before, and none makes noise smaller. Source: as the difference-based
    estimators of von Neumann 1941; median of sizes as a robust scale (0.6745 of a normal
    deviation).
    """
    best = np.inf
    for order, weight in ((2, 6.0), (4, 70.0), (6, 924.0)):
        left = np.abs(np.diff(values, order))
        if len(left):
            # A partial sort; np.median looks for NaN and takes three times as long.
            middle = len(left) // 2
            best = min(best, float(np.partition(left, middle)[middle]) / (0.6745 * weight**0.5))
    return best


def _step_of(volts: Floats) -> float:
    """Least change from one sample to the next: the step of a coarser recorder before this one."""
    changes = np.abs(np.diff(volts))
    changes = changes[changes > 1e-9]
    return float(changes.min()) if len(changes) else 0.0


@dataclass(frozen=True)
class _Cut:
    cause: ClipCause
    level: float
    tolerance: float
    crests: int
    share: float


def _as_clip(cut: _Cut, sign: float, end: str, probe: Probe) -> Clip:
    level = sign * cut.level
    return Clip(
        end="near" if end == "near" else "far",
        cause=cut.cause,
        level_v=level,
        level_um=float(gap_from_volts(np.array([level]), probe)[0]),
        tolerance_v=cut.tolerance,
        crests=cut.crests,
        share=cut.share,
    )


def _dead(volts: Floats, probe: Probe) -> bool:
    """Whether the circuit is at fault and not just crossed by peaks: the mean lies outside."""
    assert probe.fault_v is not None
    low, high = probe.fault_v
    return not low <= float(volts.mean()) <= high


def _at_converter(heights: Floats, stop: float | None, step: float) -> _Cut | None:
    """Samples that stand at the end of their type; a single one or two may be a glitch."""
    if stop is None:
        return None
    at = heights >= stop - 0.5 * step
    runs = _lengths(at)
    if len(runs) < LEAST_CRESTS and (len(runs) == 0 or runs.max() < 2):
        return None
    return _Cut("converter", stop, 0.5 * step, len(runs), float(np.count_nonzero(at)) / len(at))


def _beyond_fault(heights: Floats, limit: float | None) -> _Cut | None:
    """Peaks beyond the voltage that counts as a fault, of a waveform that lies within it."""
    if limit is None:
        return None
    beyond = heights > limit
    share = float(np.count_nonzero(beyond)) / len(beyond)
    crests = len(_lengths(beyond))
    # One long excursion is a supply that failed, and no peak.
    if crests < LEAST_CRESTS or share >= _MOST_BEYOND_FAULT:
        return None
    return _Cut("fault_limit", limit, 0.0, crests, share)


def _level_crests(heights: Floats, step: float, noise: float) -> _Cut | None:
    """Crests that are level, at the smallest depth that noise and steps leave readable.

    `heights` rise towards the end looked at; -inf where nothing is known.
    """
    top = float(heights.max())
    reach = top - float(heights[np.isfinite(heights)].min())
    least = max(DEPTHS[0] * reach, _STEP_DEPTH * step, _NOISE_DEPTH * noise)
    if reach <= 0.0:
        return None
    for depth in least * 2.0 ** np.arange(math.floor(math.log2(DEPTHS[1] * reach / least)) + 1):
        begins, ends = _crests(heights, top - depth, top - _DIP * depth)
        inside = (begins > 0) & (ends < len(heights))
        begins, ends = begins[inside], ends[inside]
        if len(begins) < LEAST_CRESTS:
            continue
        tops = np.maximum.reduceat(heights, np.column_stack([begins, ends]).ravel())[::2]
        high = tops >= top - max(step, 4.0 * noise, 0.25 * depth)
        high &= ends - begins >= _LEAST_RUN  # shorter ones are noise at the edge of a crest
        begins, ends = begins[high], ends[high]
        if len(begins) < LEAST_CRESTS:
            continue
        level = _level_of(heights, begins, ends, top - depth, depth, noise)
        if level is not None:
            tolerance = max(0.51 * step, 4.0 * noise, 1e-3 * depth)
            at = heights >= level - tolerance
            return _Cut(
                "flattened", level, tolerance, len(begins), float(np.count_nonzero(at)) / len(at)
            )
    return None


def _level_of(
    heights: Floats,
    begins: np.ndarray,
    ends: np.ndarray,
    floor: float,
    depth: float,
    noise: float,
) -> float | None:
    """Level of the crests' mean profile; `None` when it is not level, or not known well enough."""
    # Where the sides cross the floor, between samples.
    before, first = heights[begins - 1], heights[begins]
    last, after = heights[ends - 1], heights[ends]
    known = np.isfinite(before) & np.isfinite(after)
    if np.count_nonzero(known) < LEAST_CRESTS:
        return None
    begins, ends = begins[known], ends[known]
    before, first, last, after = (each[known] for each in (before, first, last, after))
    left = begins - (first - floor) / (first - before)
    right = ends - 1 + (last - floor) / (last - after)
    counts = ends - begins
    crest = np.repeat(np.arange(len(begins)), counts)
    offset = np.cumsum(counts) - counts
    at = np.arange(len(crest)) - offset[crest] + begins[crest]
    place = (2.0 * at - left[crest] - right[crest]) / (right - left)[crest]
    middle = np.abs(place) < _MIDDLE
    values = heights[at[middle]]
    column = ((place[middle] / _MIDDLE + 1.0) * (_BINS / 2.0)).astype(np.int64)
    count = np.bincount(column, minlength=_BINS)
    spread = noise / math.sqrt(max(float(count.min()), 1.0))
    if count.min() < 2 or spread > _MOST_SPREAD * depth:
        return None
    profile = np.bincount(column, weights=values - floor, minlength=_BINS) / count
    if float(np.ptp(profile)) > MOST_UNEVEN * depth + 1.5 * spread:
        return None
    # A crest that is only broad, such as one of the fourth power, is lower at its edges, or leans
    # to one side. Its height is its own: the floor is counted from the highest sample of all, which
    # noise lifts above it.
    half = _BINS // 2
    round_by = float(profile[1:-1].mean() - profile[[0, -1]].mean())
    leans_by = abs(float(profile[:half].mean() - profile[half:].mean()))
    if max(round_by, leans_by) > MOST_ROUND * float(profile.mean()) + spread:
        return None
    return float(values.mean())


def _crests(heights: Floats, floor: float, valley: float) -> tuple[np.ndarray, np.ndarray]:
    """Begin and end (not included) of each crest above a floor, with the dips in it.

    Between two crests the heights fall below the valley; between two parts of one they do not.
    """
    begins, ends = _runs(heights >= floor)
    if len(begins) < 2:
        return begins, ends
    gaps = np.column_stack([ends[:-1], begins[1:]]).ravel()
    apart = np.minimum.reduceat(heights, gaps)[::2] < valley
    return begins[np.append(True, apart)], ends[np.append(apart, True)]


def _runs(mask: Bools) -> tuple[np.ndarray, np.ndarray]:
    """Begin and end (not included) of each run of true elements."""
    edges = np.flatnonzero(mask[1:] != mask[:-1]) + 1
    if mask[0]:
        edges = np.concatenate([[0], edges])
    if mask[-1]:
        edges = np.concatenate([edges, [len(mask)]])
    return edges[::2], edges[1::2]


def _lengths(mask: Bools) -> np.ndarray:
    begins, ends = _runs(mask)
    return np.asarray(ends - begins)


def over_turns(
    clip: Clip,
    probe: Probe,
    *,
    start_s: Floats,
    end_s: Floats,
    extremes_um: Floats,
    fault: Bools,
) -> Clip:
    """The clip with the turns of a revolution table that it cut.

    A turn counts when its extreme reaches the level; with the cause `fault_limit` when it is void.

    Args:
        clip: as found in some samples.
        probe: the probe.
        start_s: starts of the turns, s, shape (r,).
        end_s: their ends, s.
        extremes_um: least (near end) or largest gap of each, µm; NaN where void.
        fault: where the circuit was at fault.
    """
    if clip.cause == "fault_limit":
        cut = fault
    else:
        inward = -clip.tolerance_v if clip.end == "near" else clip.tolerance_v
        edge = float(gap_from_volts(np.array([clip.level_v + inward]), probe)[0])
        cut = extremes_um <= edge if clip.end == "near" else extremes_um >= edge
    rows = np.flatnonzero(cut)
    if len(rows) == 0:
        return replace(clip, turns=0, seconds=0.0)
    return replace(
        clip,
        turns=len(rows),
        first_s=float(start_s[rows[0]]),
        seconds=float(np.sum(end_s[rows] - start_s[rows])),
    )


def is_wall(clip: Clip, probe: Probe, extremes_um: Floats) -> bool:
    """Whether nothing of a capture lies beyond the level, but for a few turns with a glitch.

    What cuts crests level cuts whatever comes there. Where other turns of the same probe go on,
    the crest was of that shape by itself. Peaks beyond a fault limit are void, and need no such
    proof.

    Args:
        clip: as found in some samples.
        probe: the probe.
        extremes_um: least (near end) or largest gap of each turn, µm; NaN where void.
    """
    if clip.cause == "fault_limit":
        return True
    outward = 2.0 * clip.tolerance_v if clip.end == "near" else -2.0 * clip.tolerance_v
    edge = float(gap_from_volts(np.array([clip.level_v + outward]), probe)[0])
    beyond = np.count_nonzero(extremes_um < edge if clip.end == "near" else extremes_um > edge)
    return bool(beyond <= max(_GLITCHES, _GLITCH_SHARE * len(extremes_um)))


def off_cuts(volts: Floats, clips: Sequence[Clip]) -> Bools:
    """Samples that no cut touched, shape (n,); NaN is cut, too."""
    good: Bools = np.isfinite(volts)
    for clip in clips:
        if clip.end == "near":
            good &= volts < clip.level_v - clip.tolerance_v
        else:
            good &= volts > clip.level_v + clip.tolerance_v
    return good
