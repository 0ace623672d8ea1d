"""What guidance says about a limit: a suggestion or the outcome of a check, with its source."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

AdviceFinding = Literal["suggestion", "in_order", "look", "against", "unknown"]
"""`suggestion`: a value to weigh; `in_order`, `look`, `against`: outcome of a check, from good to
bad; `unknown`: cannot be judged, the sentence says what is missing."""

FROM_MEMORY: Final = "from memory: confirm against your copy"
SEEN: Final = "seen in print"
COMPUTED: Final = "computed from the setup and the capture"
COMMON_PRACTICE: Final = "common practice"


@dataclass(frozen=True)
class Source:
    """Where a piece of advice comes from: document and edition, and how sure that is."""

    text: str
    how_sure: str


@dataclass(frozen=True)
class Advice:
    """One piece of advice on one limit.

    `topic` is a stable word (`"level"`, `"normal"`, `"delay"`, `"latching"`, `"linear_range"`,
    `"clearance"`, `"order"`, `"votes"`, `"circuit_fault"`, `"multiplier"`), `title` the heading.
    `suggested` holds no value, one, or the two ends of a range, in µm or s as `quantity` says;
    `present` is the setting that it stands beside. Nothing is ever filled in by the program.
    """

    topic: str
    title: str
    finding: AdviceFinding
    sentence: str
    source: Source
    suggested: tuple[float, ...] = ()
    quantity: Literal["µm p-p", "µm", "s", ""] = ""
    present: float | None = None
