"""What the gallery tells of a shape."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from .lab_state import LabState

HowSure = Literal["from memory", "common practice", "computed"]


@dataclass(frozen=True)
class Shape:
    """A named orbit.

    `makes` is what often makes it, `waveform` and `spectrum` how it shows there, `also` what else
    can look the same, `tells_apart` what helps to decide. `how_sure` is of the link from shape to
    cause; that the state makes the shape is computed.
    """

    key: str
    title: str
    state: LabState
    makes: str
    waveform: str
    spectrum: str
    also: str
    tells_apart: str
    source: str
    how_sure: HowSure
