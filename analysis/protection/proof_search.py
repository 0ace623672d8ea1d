"""What the search for proof-test steps shares: stretches of ticks, outcomes, results."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from analysis.model.proof import ProofStep, StepResult
from analysis.model.replay_results import MonitorSeries, ReplayResult
from analysis.model.results import Bools

from .limit_logic import runs_of

LEAST_START_TICKS: Final = 10
Run = tuple[int, int]
"""First and last tick of a stretch."""


@dataclass
class Outcome:
    """What a step looks like in the capture."""

    run: Run
    passed: bool
    read: str
    remark: str = ""


class GroupSearch:
    """What both kinds of group share: the steps, the replay, and results made of outcomes."""

    def __init__(self, steps: list[ProofStep], replay: ReplayResult) -> None:
        self.steps = steps
        self.replay = replay
        self.series: MonitorSeries = replay.series
        self.begun = 0

    def result(self, step: ProofStep, outcome: Outcome | None, missing: str) -> StepResult:
        """The result of a step; without an outcome it was not found, and `missing` says why."""
        if outcome is None:
            return StepResult(step.number, "not found", remark=missing)
        first, last = outcome.run
        return StepResult(
            number=step.number,
            result="pass" if outcome.passed else "fail",
            read=outcome.read,
            remark=outcome.remark,
            start_s=self.time(first),
            end_s=self.time(last),
        )

    def time(self, tick: int) -> float:
        """Capture time of a tick, s; ticks outside are taken for the nearest."""
        return float(self.series.time_s[min(max(tick, 0), len(self.series) - 1)])

    def probe_faults(self, names: Sequence[str]) -> Bools:
        """Where any of these probes has a circuit fault."""
        faults = np.zeros(len(self.series), dtype=bool)
        for name in names:
            if name in self.series.probes:
                faults |= self.series.probes[name].fault
        return faults


def tick_runs(holds: Bools) -> list[Run]:
    """First and last tick of every stretch in which something holds."""
    runs = runs_of(holds)
    return [(int(a), int(b)) for a, b in zip(runs.first, runs.last, strict=True)]
