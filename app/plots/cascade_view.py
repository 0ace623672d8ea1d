"""What a cascade picture is given."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from analysis.model.response_results import Cascade
    from analysis.model.results import Floats

    from .cascade_shapes import CascadeScale


@dataclass(frozen=True, eq=False)
class CascadeView:
    """Spectra, what they are of (`name`), and how they are to be drawn."""

    name: str
    cascade: Cascade
    scale: CascadeScale = "dB"
    style: Literal["picture", "lines"] = "picture"

    @property
    def x(self) -> Floats:
        """Orders or Hz of the lines."""
        return self.cascade.frequency

    @property
    def amplitude_um(self) -> Floats:
        """Shape (rows, lines), µm p-p."""
        return self.cascade.amplitude_um

    @property
    def speed_rpm(self) -> Floats:
        """Of each row."""
        return self.cascade.speed_rpm

    @property
    def time_s(self) -> Floats:
        """Of each row; NaN where it is not known."""
        return self.cascade.time_s

    @property
    def frequency(self) -> Literal["orders", "hz"]:
        """What stands across."""
        return self.cascade.axis

    @property
    def over(self) -> Literal["speed", "time"]:
        """What stands upwards."""
        return self.cascade.against

    @property
    def two_sided(self) -> bool:
        """Backward left of zero, forward right."""
        return self.cascade.two_sided

    def at(self) -> Floats:
        """Where each spectrum stands."""
        return self.time_s if self.over == "time" else self.speed_rpm
