"""How many loops an orbit of two turning vectors has, and why, in one sentence.

Two circles of orders a < b, with the same sense or against each other, meet again after the fewest
turns q for which qa and qb are whole. The faster vector then has turned `(b - a) q` times past the
slower one when both turn the same way: that many loops, on the inside. Turning against each other
it is `(b + a) q`, on the outside. For a whirl at 1/n of 1X: n - 1 and n + 1. There are loops only
where the faster vector's tip moves faster than the slower one's, else the orbit bulges without
them. Source: geometry of two rotating vectors; Muszynska, *Rotordynamics*, 2005 (from memory).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import lcm
from typing import Literal

from .lab_state import Precession

MOST_TURNS = 12
"""An orbit that takes more turns than this to close is taken for one that never does."""

_LEAST_SHARE = 0.05
"""Of the largest order's size: smaller ones change no loop that can be seen."""

_NEAR_TURNS = 5
_NEAR_ORDER = 0.06


@dataclass(frozen=True)
class LoopStory:
    """The loops of an orbit.

    `count` and `side` are `None` where there are none, or none that can be told; `closes_after` is
    in turns, `None` when the orbit does not close; then `count` is that of the nearby simple ratio.
    `marks` is how many once-per-turn marks stand still on the orbit, `None` when they wander.
    """

    count: int | None
    side: Literal["inner", "outer"] | None
    closes_after: int | None
    marks: int | None
    sentence: str


@dataclass(frozen=True)
class _Circle:
    order: float
    radius: float
    forward: bool


def loop_story(lines: Iterable[Precession]) -> LoopStory:
    """The story of an orbit's two largest circles of different orders.

    A free motion is meant: constraints and runout make shapes of their own.
    """
    lines = tuple(lines)
    if not lines:
        return LoopStory(None, None, 1, 1, "Nothing moves: the orbit is a point.")
    closes = _closes_after([line.order for line in lines])
    pair = _largest_two(lines)
    if len(pair) < 2:
        marks = "a mark" if closes == 1 else f"{closes} marks" if closes else "marks that wander"
        return LoopStory(
            None, None, closes, closes, f"One order alone: an ellipse without loops, with {marks}."
        )
    slow, fast = sorted(pair, key=lambda circle: circle.order)
    others = _others(lines, pair)
    own, exact = _ratio_for_counting(slow.order, fast.order)
    together = slow.forward == fast.forward
    if own is None:
        words = f"{_named(slow)} and {_named(fast)} never meet: the orbit does not close."
        return LoopStory(None, None, None, None, words + others)
    a, b, turns = own
    count = b - a if together else b + a
    if fast.order * fast.radius <= slow.order * slow.radius:
        words = (
            f"{_named(fast)} is too small beside {_named(slow)} to make loops: the orbit bulges "
            f"{count} time{_s(count)} in {turns} turn{_s(turns)}."
        )
        return LoopStory(None, None, closes, closes, words + _marks_words(closes) + others)
    side: Literal["inner", "outer"] = "inner" if together else "outer"
    words = _sentence(slow, fast, (a, b, turns), count, side)
    if not exact:
        words += f" The ratio is near to that, not on it: the figure turns slowly.{_WANDER}"
    else:
        words += _marks_words(closes)
    return LoopStory(count, side, closes, closes, words + others)


_WANDER = " The marks wander along the orbit."


def _marks_words(closes: int | None) -> str:
    if closes is None:
        return _WANDER
    if closes == 1:
        return " One mark, standing still."
    return f" {closes} marks, standing still."


def _sentence(
    slow: _Circle, fast: _Circle, meeting: tuple[int, int, int], count: int, side: str
) -> str:
    a, b, turns = meeting
    loops = f"{count} {side} loop{_s(count)}"
    how = "the same way as" if side == "inner" else "against"
    if fast.order == 1.0 and a == 1:
        rule = "n − 1" if side == "inner" else "n + 1"
        why = f"{rule} for a whirl at 1/n of running speed, with n = {b}"
    else:
        step = "−" if side == "inner" else "+"
        why = f"{b} {step} {a} in the {turns} turn{_s(turns)} that they take to meet"
    return f"{_named(slow)} turns {how} {_named(fast)}: {loops} ({why})."


def _named(circle: _Circle) -> str:
    sense = "forward" if circle.forward else "backward"
    return f"{circle.order:.4g}X {sense}"


def _s(count: int) -> str:
    return "" if count == 1 else "s"


def _others(lines: tuple[Precession, ...], pair: list[_Circle]) -> str:
    """What else is in the orbit, of which the count says nothing."""
    sizes = _sizes(lines)
    told = {circle.order for circle in pair}
    least = _LEAST_SHARE * max(sizes.values())
    left = sorted(order for order, size in sizes.items() if order not in told and size > least)
    if not left:
        return ""
    names = ", ".join(f"{order:.4g}X" for order in left)
    return f" That is told of these two alone: {names} bend{_verb(left)} the orbit further."


def _verb(left: list[float]) -> str:
    return "s" if len(left) == 1 else ""


def _sizes(lines: tuple[Precession, ...]) -> dict[float, float]:
    """Forward and backward of every order together."""
    sums: dict[float, float] = {}
    for line in lines:
        sums[line.order] = sums.get(line.order, 0.0) + line.forward_um_pp + line.backward_um_pp
    return sums


def _largest_two(lines: tuple[Precession, ...]) -> list[_Circle]:
    circles = [
        _Circle(line.order, radius, forward)
        for line in lines
        for radius, forward in ((line.forward_um_pp, True), (line.backward_um_pp, False))
    ]
    sums = _sizes(lines)
    orders = sorted(sums, key=lambda order: sums[order], reverse=True)[:2]
    return [
        max((c for c in circles if c.order == order), key=lambda c: c.radius) for order in orders
    ]


@lru_cache(maxsize=256)
def _simple(order: float, most_turns: int) -> Fraction:
    return Fraction(order).limit_denominator(most_turns)


def _closes_after(orders: list[float]) -> int | None:
    simple = [_simple(order, MOST_TURNS) for order in orders]
    if any(abs(float(f) - order) > 1e-9 for f, order in zip(simple, orders, strict=True)):
        return None
    turns = lcm(*(f.denominator for f in simple))
    return turns if turns <= MOST_TURNS else None


def _ratio_for_counting(slow: float, fast: float) -> tuple[tuple[int, int, int] | None, bool]:
    """Turns of both vectors until they meet, and the shaft's; and whether that is exact."""
    for most, near in ((MOST_TURNS, 1e-9), (_NEAR_TURNS, _NEAR_ORDER)):
        a, b = _simple(slow, most), _simple(fast, most)
        turns = lcm(a.denominator, b.denominator)
        off = max(abs(float(a) - slow), abs(float(b) - fast))
        if off <= near and 0 < a < b and turns <= MOST_TURNS:
            return (int(a * turns), int(b * turns), turns), near < 1e-6
    return None, False
