"""Keeping labels out of each other's way."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from PySide6.QtCore import QRectF


def spread(wanted: Sequence[float], sizes: Sequence[float], low: float, high: float) -> list[float]:
    """Middles near the wanted ones for things of those sizes, kept between `low` and `high`.

    The order of the wanted middles is kept; things that touch share their moves, so that the sum of
    squared moves is least before the ends are looked at. Too many for the room: squeezed together.
    """
    if not wanted:
        return []
    order = sorted(range(len(wanted)), key=lambda index: wanted[index])
    room, total = high - low, sum(sizes)
    squeeze = min(1.0, room / total) if total > 0 else 1.0
    # Middle of each thing when all are stacked without a gap from 0 on.
    offsets, filled = [], 0.0
    for index in order:
        offsets.append(filled + sizes[index] * squeeze / 2)
        filled += sizes[index] * squeeze
    levels = _rising([wanted[i] - offset for i, offset in zip(order, offsets, strict=True)])
    result = [0.0] * len(wanted)
    for index, level, offset in zip(order, levels, offsets, strict=True):
        result[index] = min(max(level, low), high - filled) + offset
    return result


def _rising(values: list[float]) -> list[float]:
    """Isotonic regression: the rising sequence nearest to the values (pool adjacent violators)."""
    blocks: list[tuple[float, int]] = []
    for value in values:
        blocks.append((value, 1))
        while len(blocks) > 1 and blocks[-2][0] > blocks[-1][0]:
            (mean_b, count_b), (mean_a, count_a) = blocks.pop(), blocks.pop()
            count = count_a + count_b
            blocks.append(((mean_a * count_a + mean_b * count_b) / count, count))
    return [mean for mean, count in blocks for _ in range(count)]


def first_free(candidates: Iterable[QRectF], taken: Sequence[QRectF]) -> QRectF | None:
    """The first rectangle that meets none of the taken ones."""
    for candidate in candidates:
        if not any(candidate.intersects(other) for other in taken):
            return candidate
    return None
