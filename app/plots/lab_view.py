"""What the pictures of the Lab are given."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from analysis.rotor.vectors import amplitude_and_lag

if TYPE_CHECKING:
    from analysis.model.setup import Setup
    from analysis.simulate.lab import LabResult

_NO_TURN_DEG = 0.005
LEAST_UM_PP = 0.05
"""Below this there is no 1X that a lag could belong to."""


@dataclass(frozen=True, eq=False)
class LabView:
    """A composed state, with the setup that a capture of it has.

    `hidden` is what a task asks for, and so no picture may tell: `"lag"`, `"precession"`,
    `"shaft"` (what it truly does), `"notes"`.
    """

    result: LabResult
    setup: Setup
    hidden: frozenset[str] = frozenset()

    def lag_deg(self, name: str) -> float | None:
        """1X phase lag of a probe; `None` where there is no 1X, or where it is hidden."""
        amplitude, lag = self.once(name)
        if amplitude < LEAST_UM_PP or "lag" in self.hidden:
            return None
        # Rounding noise on the wrong side of the event is no turn.
        return 0.0 if lag > 360.0 - _NO_TURN_DEG else lag

    def once(self, name: str) -> tuple[float, float]:
        """Amplitude (µm p-p) and phase lag of a probe's 1X."""
        return amplitude_and_lag(self.result.readings[name].vectors[1])

    @property
    def names(self) -> tuple[str, str]:
        """The two probes, in the setup's order."""
        first, second = (probe.name for probe in self.result.state.probes)
        return first, second
