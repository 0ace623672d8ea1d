"""What tasks are made of: fields, answers, verdicts, and words about a lag."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

TaskKind = Literal["phase_lag", "precession", "swapped", "slow_roll", "alarm"]

Answer = Mapping[str, float | str]
"""Field name to what was typed or chosen."""


@dataclass(frozen=True)
class Ask:
    """A field of an answer: a number with a unit, or one of `choices`."""

    name: str
    label: str
    unit: str = ""
    choices: tuple[str, ...] = ()


@dataclass(frozen=True)
class Verdict:
    """Whether an answer is right, and a sentence on why."""

    right: bool
    words: str


_NEAR_DEG = 6.0


def number_of(answer: Answer, name: str) -> float | None:
    """A finite number of an answer, given as one or as text with either decimal sign."""
    value = answer.get(name)
    if value is None:
        return None
    try:
        number = float(value.replace(",", ".") if isinstance(value, str) else value)
    except ValueError:
        return None
    return number if math.isfinite(number) else None


def lag_between(a_deg: float, b_deg: float) -> float:
    """How far two lags are apart, 0 to 180 degrees."""
    return abs((a_deg - b_deg + 180.0) % 360.0 - 180.0)


def lag_words(given_deg: float, lag_deg: float, within_deg: float) -> str:
    """A sentence on a lag that was given: right, or which reading it would have been."""
    if lag_between(given_deg, lag_deg) <= within_deg:
        return f"Right: the lag is {lag_deg:.0f}°."
    told = f"The lag is {lag_deg:.0f}°"
    others = (
        (-lag_deg, "that would be a lead, counted back from the mark"),
        (lag_deg + 180.0, "that is the negative peak, with the shaft furthest from the probe"),
        (lag_deg + 90.0, "that is where the sine crosses zero, on its way down"),
        (lag_deg - 90.0, "that is where the sine crosses zero, on its way up"),
    )
    nearest, why = min(others, key=lambda other: lag_between(given_deg, other[0]))
    if lag_between(given_deg, nearest) <= max(within_deg, _NEAR_DEG):
        return f"{told}: {why}."
    return f"{told}."
