"""One limit with all that guidance looks at."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.model.setup import Limit, Probe, Setup, SeverityZones
from analysis.model.units import LengthUnit

from .baseline import Baseline
from .lengths import length_text


@dataclass(frozen=True)
class Case:
    """One limit of a setup, the baseline of the capture (if any) and the reader's unit."""

    setup: Setup
    limit: Limit
    index: int
    baseline: Baseline | None
    captured: bool
    unit: LengthUnit

    @property
    def probes(self) -> tuple[Probe, ...]:
        """The limit's probes that the setup knows."""
        return tuple(probe for probe in self.setup.probe if probe.name in self.limit.probes)

    @property
    def all_radial(self) -> bool:
        """True when all the limit's probes are radial."""
        return all(probe.kind == "radial" for probe in self.probes)

    @property
    def zones(self) -> SeverityZones:
        """The setup's zones, or the default ones."""
        return self.setup.severity_zones or SeverityZones()

    @property
    def zones_named(self) -> str:
        """The zones' edition, and whether the setup has them."""
        if self.setup.severity_zones is None:
            return f"{self.zones.edition}, not in your setup"
        return self.zones.edition

    @property
    def no_baseline(self) -> str:
        """Why there is no baseline."""
        if not self.captured:
            return "A baseline is taken from a capture: open one of the machine at operating speed."
        return (
            "This capture holds no steady part at operating speed (3 s within 1 %, speed known): "
            "there is no baseline to judge by."
        )

    @property
    def highest_level(self) -> float | None:
        """The highest p-p that the limit ever asks for, its multiplier put in, µm."""
        if self.limit.above is None:
            return None
        multiplier = self.limit.multiplier
        return self.limit.above * (1.0 if multiplier is None else multiplier.factor)

    def length(self, um: float, suffix: str = "") -> str:
        """A length in the reader's unit."""
        return length_text(um, self.unit, suffix)

    def normal_gap(self, probe: Probe) -> tuple[float, str] | None:
        """Mean gap of a probe, µm, and where that is from: the capture, else the setup's rest."""
        if self.baseline is not None and probe.name in self.baseline.gap:
            return self.baseline.gap[probe.name].mean_um, "the mean gap in normal running"
        if probe.rest_gap_um is not None:
            return probe.rest_gap_um, "the rest gap of the setup"
        return None
