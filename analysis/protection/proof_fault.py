"""The circuit-fault steps of a proof test, found in a capture."""

from __future__ import annotations

from analysis.model.proof import StepResult
from analysis.model.replay_results import EventName

from .proof_search import LEAST_START_TICKS, GroupSearch, Outcome, Run, tick_runs
from .proof_words import SET_TOLERANCE_S


class FaultGroup(GroupSearch):
    """The steps of one probe's circuit fault."""

    def results(self, cursor: int) -> list[StepResult]:
        """The steps' results; the fault lies after `cursor`, or else anywhere."""
        (name,) = self.steps[0].probes
        runs = tick_runs(self.probe_faults((name,)))
        later = [run for run in runs if run[0] >= cursor] or runs
        run = later[-1] if later else None
        self.begun = cursor if run is None else run[0]
        out = []
        for step in self.steps:
            outcome: Outcome | None = None
            if run is not None and step.kind == "start" and run[0] >= LEAST_START_TICKS:
                outcome = Outcome((run[0] - LEAST_START_TICKS, run[0] - 1), True, "no fault")
            elif run is not None and step.kind == "fault":
                outcome = self._fault(name, run)
            elif run is not None and step.kind == "restore" and run[1] + 1 < len(self.series):
                outcome = self._restored(name, run)
            out.append(self.result(step, outcome, f"the circuit of {name} never opens here"))
        return out

    def _fault(self, name: str, run: Run) -> Outcome:
        start_s, end_s = self.time(run[0]), self.time(run[1])
        sets = [
            event
            for event in self.replay.events
            if event.event == "set"
            and event.measure == "peak_to_peak"
            and name in event.probes
            and start_s < event.time_s <= end_s
        ]
        seen = self._named("fault", name, start_s)
        if sets:
            remark = f"a p-p limit sets at {sets[0].time_s:.1f} s during the circuit fault"
            return Outcome(run, False, "circuit fault; a p-p limit acts", remark)
        if not seen:
            return Outcome(run, False, "nothing", "the circuit fault is not told")
        return Outcome(run, True, f"circuit fault at {start_s:.1f} s; no p-p limit acts")

    def _restored(self, name: str, run: Run) -> Outcome:
        at_s = self.time(run[1] + 1)
        after = run[1] + 1, min(run[1] + LEAST_START_TICKS, len(self.series) - 1)
        if self._named("fault_cleared", name, at_s):
            return Outcome(after, True, f"circuit fault gone at {at_s:.1f} s")
        return Outcome(after, False, "still a fault", "the circuit fault does not clear")

    def _named(self, event: EventName, name: str, at_s: float) -> bool:
        return any(
            each.event == event
            and each.probes == (name,)
            and abs(each.time_s - at_s) <= SET_TOLERANCE_S
            for each in self.replay.events
        )
