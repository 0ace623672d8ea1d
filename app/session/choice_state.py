"""What the reader wants to see of a moment: plane, orbit, spectrum, timeline."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Literal

from PySide6.QtCore import QObject, Signal

from analysis.views.moment_request import SpectrumChoice

if TYPE_CHECKING:
    from analysis.model.response_results import Runout

OrbitPaths = Literal["raw", "filtered", "both"]


@dataclass(frozen=True)
class Choices:
    """Everything that can be chosen. `None` stands for the first one, or for nothing given.

    `plane` names a plane of the setup, or is `None` for its first; `probes` are the two probes to
    look at instead of a plane's. `speed_rpm` is the speed that the user gives for a capture without
    a phase reference. `waveform_s` is the length of the waveforms (`None`: the automatic one),
    `waveform_place` the share of it that lies before the moment. `runout` is taken off waveforms
    and orbits, by probe.
    """

    plane: str | None = None
    probes: tuple[str, ...] | None = None
    orbit_paths: OrbitPaths = "both"
    orbit_orders: tuple[int, ...] = (1,)
    spectrum: SpectrumChoice = field(default_factory=SpectrumChoice)
    timeline_probe: str | None = None
    speed_rpm: float | None = None
    waveform_s: float | None = None
    waveform_place: float = 0.5
    runout: Mapping[str, Runout] = field(default_factory=dict, hash=False)


class ChoiceState(QObject):
    """The choices, changed a few at a time; `changed` carries the names of those that differ."""

    changed = Signal(object)

    def __init__(self, choices: Choices | None = None) -> None:
        super().__init__()
        self._choices = choices or Choices()

    @property
    def now(self) -> Choices:
        """The choices as they stand."""
        return self._choices

    def set(self, **changes: Any) -> None:
        """Change the choices named; those that are as wanted already are no change."""
        differing = {
            name for name, value in changes.items() if getattr(self._choices, name) != value
        }
        if differing:
            self._choices = replace(self._choices, **{name: changes[name] for name in differing})
            self.changed.emit(frozenset(differing))

    def set_spectrum(self, **changes: Any) -> None:
        """Change parts of the spectrum choice."""
        self.set(spectrum=replace(self._choices.spectrum, **changes))
