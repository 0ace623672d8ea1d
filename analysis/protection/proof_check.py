"""A captured proof test held against its steps: they are found in the measures by themselves.

A step is found by what the probes saw (which is the capture's own), and judged by what the replay
of the settings made of it. A capture holds no relay and no loop: those are read by hand.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

import numpy as np

from analysis.model.proof import ProofStep, StepResult
from analysis.model.replay_results import EventName, LimitEvent, ReplayResult
from analysis.model.results import Bools, Floats
from analysis.model.setup import Limit
from analysis.model.units import LengthUnit

from .condition import measure_over, probes_beyond, voted
from .lengths import length_text, names_text
from .limit_logic import TICK_S, delay_ticks
from .proof_fault import FaultGroup
from .proof_search import LEAST_START_TICKS, GroupSearch, Outcome, Run, tick_runs
from .proof_words import SET_TOLERANCE_S

_NEAR_APPROACHES = 4.0


def check_capture(
    steps: Sequence[ProofStep], replay: ReplayResult, *, unit: LengthUnit = LengthUnit.UM
) -> tuple[StepResult, ...]:
    """Find the steps in a replayed capture, in their order, and judge each.

    Args:
        steps: the steps, written for the settings that ought to be in force.
        replay: the capture replayed through the settings that are to be proved, with the resets
            that were given; limits are matched by their place in the setup.
        unit: the unit that texts are written in.

    Returns:
        One result a step: `pass`, `fail`, `not found` (the capture has no such stretch), or `not
        done` for what only a person can do.
    """
    results: list[StepResult] = []
    cursor = 0
    for number, group in groupby(steps, key=lambda step: step.group):
        own = list(group)
        if number < 0:
            results += [
                StepResult(step.number, "not done", remark="to be done by hand") for step in own
            ]
            continue
        found = FaultGroup(own, replay) if own[0].index is None else _LimitGroup(own, replay, unit)
        results += found.results(cursor)
        # Sequences may lie inside one another (one sweep through alarm and trip and back), but
        # each begins to act after the one before it.
        cursor = max(cursor, found.begun)
    return tuple(results)


class _LimitGroup(GroupSearch):
    """The steps of one limit."""

    def __init__(self, steps: list[ProofStep], replay: ReplayResult, unit: LengthUnit) -> None:
        super().__init__(steps, replay)
        self.unit = unit
        limit = steps[0].limit
        assert limit is not None
        self.limit = _one_side(limit, steps[0])
        self.delay = delay_ticks(limit.delay_s)
        series = self.series
        self.each = probes_beyond(
            self.limit, series.probes, series.speed_rpm, phase_known=series.phase_known
        )
        self.beyond: Floats = voted(self.limit, self.each, len(series))
        self.with_fault = any(step.kind == "fault_vote" for step in steps)
        faults = self.probe_faults(self.limit.probes)
        wanted = faults if self.with_fault else ~faults
        with np.errstate(invalid="ignore"):
            self.met: Bools = (self.beyond >= 0.0) & wanted
            self.clear: Bools = ~(self.beyond >= -self.limit.hysteresis_um) & ~np.isnan(self.beyond)
            self.inside: Bools = (self.beyond < 0.0) & ~faults

    def results(self, cursor: int) -> list[StepResult]:
        """The steps' results; what acts lies after `cursor`."""
        anchor = self._anchor(cursor)
        upto = len(self.series) - 1 if anchor is None else anchor[0]
        self.begun = cursor if anchor is None else anchor[0]
        out = []
        for step in self.steps:
            outcome: Outcome | None
            missing = "the capture has no such stretch"
            if step.kind == "start":
                outcome = self._start(cursor, upto)
            elif step.kind == "near":
                outcome = self._quiet(self._near(step), self.delay + 1, cursor, upto)
                missing = "the capture never stays just inside the limit for the delay"
            elif step.kind == "one_short":
                outcome = self._quiet(self._one_short(), self.delay + 1, cursor, upto)
                missing = "no stretch in which one vote was missing for the delay"
            elif step.kind == "burst":
                outcome = self._burst(cursor, upto)
                missing = "no burst beyond the limit that is shorter than the delay"
            elif anchor is None:
                outcome = None
                missing = "the capture is never beyond the limit for the delay"
            else:
                outcome, missing = self._acting(step, anchor)
            out.append(self.result(step, outcome, missing))
        return out

    def _anchor(self, cursor: int) -> Run | None:
        """The first stretch that is beyond the limit for its delay."""
        for first, last in tick_runs(self.met):
            if first >= cursor and last - first >= self.delay:
                return first, last
        return None

    def _start(self, cursor: int, upto: int) -> Outcome | None:
        """The last stretch before it acts in which none of the probes' limits does.

        In a sweep through alarm and trip the alarm acts all the while: then this limit alone.
        """
        whole = self.steps[0].limit
        assert whole is not None
        each = probes_beyond(
            whole,
            self.series.probes,
            self.series.speed_rpm,
            phase_known=self.series.phase_known,
        )
        with np.errstate(invalid="ignore"):
            clear = voted(whole, each, len(self.series)) < -whole.hysteresis_um
        for step in self.steps:
            if step.kind == "near":
                clear &= ~self._near(step)
        for holds in (clear & self._all_normal(), clear):
            kept = holds.copy()
            kept[:cursor] = False
            kept[upto:] = False
            runs = [run for run in tick_runs(kept) if run[1] - run[0] + 1 >= LEAST_START_TICKS]
            if runs:
                return self._nothing_sets(runs[-1])
        return None

    def _all_normal(self) -> Bools:
        normal = np.ones(len(self.series), dtype=bool)
        for limit, runs in zip(self.replay.setup.limit, self.replay.states, strict=True):
            if not set(limit.probes) & set(self.steps[0].probes):
                continue
            for run in runs:
                if run.state != "normal":
                    time_s = self.series.time_s
                    normal[(time_s >= run.start_s - 1e-9) & (time_s <= run.end_s + 1e-9)] = False
        return normal

    def _near(self, step: ProofStep) -> Bools:
        level = self.limit.above if self.limit.above is not None else self.limit.below
        if self.limit.region is not None:
            level = self.limit.region.amplitude_um[1]
        # What was asked for tells how near; a calibrator is not exact.
        apart = [
            abs(_applied_value(self.limit, each.gap_um, each.peak_to_peak_um) - (level or 0.0))
            for each in step.applied
        ]
        band = _NEAR_APPROACHES * max(apart, default=1.0)
        with np.errstate(invalid="ignore"):
            near: Bools = self.inside & (self.beyond >= -band)
        # With several votes the deciding probe is inside while another is beyond.
        return near & ~self._one_short() if self.limit.votes > 1 else near

    def _one_short(self) -> Bools:
        fewer = self.limit.model_copy(update={"votes": self.limit.votes - 1})
        with np.errstate(invalid="ignore"):
            short: Bools = (voted(fewer, self.each, len(self.series)) >= 0.0) & self.inside
        return short

    def _quiet(self, holds: Bools, least: int, cursor: int, upto: int) -> Outcome | None:
        """The longest stretch between the two ticks that is long enough; nothing may set in it."""
        kept = holds.copy()
        kept[:cursor] = False
        kept[upto:] = False
        runs = [run for run in tick_runs(kept) if run[1] - run[0] + 1 >= least]
        if not runs:
            return None
        run = max(runs, key=lambda each: each[1] - each[0])
        return self._nothing_sets(run)

    def _burst(self, cursor: int, upto: int) -> Outcome | None:
        runs = [
            run
            for run in tick_runs(self.met)
            if cursor <= run[0] and run[1] < upto and run[1] - run[0] < self.delay
        ]
        if not runs:
            return None
        first, last = max(runs, key=lambda each: each[1] - each[0])
        outcome = self._nothing_sets((first, min(last + self.delay, upto)))
        lasted = (last - first + 1) * TICK_S
        outcome.run = first, last
        outcome.read = f"{outcome.read}; burst of {lasted:.1f} s"
        return outcome

    def _nothing_sets(self, run: Run) -> Outcome:
        event = self._event(("set",), self.time(run[0]), self.time(run[1]))
        if event is None:
            return Outcome(run, True, f"nothing acts; {self._seen(run)}")
        remark = f"the limit sets at {event.time_s:.1f} s and should not"
        return Outcome(run, False, f"sets; {self._seen(run)}", remark)

    def _acting(self, step: ProofStep, anchor: Run) -> tuple[Outcome | None, str]:
        first, last = anchor
        back = self._back(last)
        if step.kind in ("beyond", "fault_vote"):
            return self._timed(step, anchor, "set"), ""
        if step.kind == "reset_present":
            sets = self._event(("set",), self.time(first), self.time(last))
            begin = self.time(first) if sets is None else sets.time_s
            reset = self._reset_between(begin, self.time(last))
            if reset is None:
                return None, "no reset was given while the condition was present"
            return self._reset_present(reset, anchor), ""
        if back is None:
            return None, "the capture ends before the condition is gone"
        if step.kind == "back":
            if step.event == "held":
                return self._held(back, self._shown(step, back)), ""
            if back[1] - back[0] < self.delay:
                return None, "the capture is not back inside the limit for the delay"
            return self._timed(step, back, "cleared"), ""
        reset = self._reset_between(self.time(back[0]), self.time(back[1]))
        if reset is None:
            return None, "no reset was given after the condition was gone"
        return self._reset_after(reset, back), ""

    def _back(self, last: int) -> Run | None:
        """From when the condition is clear after it was met, to when it is met again."""
        after = np.flatnonzero(self.clear[last + 1 :])
        if not len(after):
            return None
        first = last + 1 + int(after[0])
        again = np.flatnonzero(~self.clear[first:])
        until = len(self.series) - 1 if not len(again) else first + int(again[0]) - 1
        return first, until

    def _shown(self, step: ProofStep, run: Run) -> Run:
        """The part of a stretch that belongs to a step; what follows is the next one's."""
        hold = round((step.hold_s or 0.0) / TICK_S)
        return run[0], min(run[1], run[0] + max(hold, self.delay))

    def _timed(self, step: ProofStep, run: Run, name: EventName) -> Outcome:
        """An event that comes a delay after the stretch began."""
        assert step.after_s is not None
        start_s = self.time(run[0])
        event = self._event((name,), start_s, self.time(run[1]) + 2 * TICK_S)
        run = self._shown(step, run) if name == "cleared" else run
        word = "set" if name == "set" else "clear"
        if event is None:
            before = self._state_at(start_s)
            state = f"{before} already" if name == "set" and before != "normal" else "no event"
            if name == "cleared" and self._held_in(run):
                state = "held by the latch"
            lasted = (run[1] - run[0]) * TICK_S
            remark = f"it does not {word} in {lasted:.1f} s; expected after {step.after_s:.1f} s"
            return Outcome(run, False, f"{state}; {self._seen(run)}", remark)
        took = event.time_s - start_s
        read = f"{word}s after {took:.1f} s; {self._seen(run)}"
        if abs(took - step.after_s) <= SET_TOLERANCE_S + 1e-9:
            return Outcome(run, True, read)
        remark = f"{word}s after {took:.1f} s, expected {step.after_s:.1f} s ± {SET_TOLERANCE_S} s"
        return Outcome(run, False, read, remark)

    def _state_at(self, moment_s: float) -> str:
        """The state that the limit comes from at a moment."""
        index = self.steps[0].index
        if index is None or index >= len(self.replay.states):
            return "normal"
        runs = [run for run in self.replay.states[index] if run.start_s < moment_s - 1e-9]
        return runs[-1].state if runs else "normal"

    def _held(self, back: Run, shown: Run) -> Outcome:
        start_s, end_s = self.time(back[0]), self.time(back[1])
        held = self._event(("held",), start_s - TICK_S, end_s)
        cleared = self._event(("cleared",), start_s - TICK_S, end_s)
        if held is not None and cleared is None:
            return Outcome(shown, True, f"the latch holds; {self._seen(shown)}")
        if cleared is not None:
            remark = f"it clears by itself at {cleared.time_s:.1f} s: there is no latch"
            return Outcome(shown, False, f"clears by itself; {self._seen(shown)}", remark)
        return Outcome(shown, False, f"not held; {self._seen(shown)}", "no latch holds it")

    def _held_in(self, run: Run) -> bool:
        end_s = self.time(run[1])
        return self._event(("held",), self.time(run[0]) - TICK_S, end_s) is not None

    def _reset_present(self, reset_s: float, anchor: Run) -> Outcome:
        event = self._event(("reset",), reset_s - TICK_S, reset_s + 2 * TICK_S)
        if event is not None:
            remark = f"the reset at {reset_s:.1f} s let go while the condition was present"
            return Outcome(anchor, False, "lets go", remark)
        if self._state_at(reset_s) != "set":
            return Outcome(anchor, False, "not set", "it was not set when the reset came")
        return Outcome(anchor, True, f"reset at {reset_s:.1f} s does nothing, still set")

    def _reset_after(self, reset_s: float, back: Run) -> Outcome:
        event = self._event(("reset",), reset_s - TICK_S, reset_s + 2 * TICK_S)
        at = int(np.searchsorted(self.series.time_s, reset_s))
        run = at, min(at + LEAST_START_TICKS, back[1])
        if event is None:
            text = f"nothing at {reset_s:.1f} s"
            return Outcome(run, False, text, "the reset let go of nothing")
        return Outcome(run, True, f"the reset at {reset_s:.1f} s lets go")

    def _reset_between(self, start_s: float, end_s: float) -> float | None:
        for reset in self.replay.resets_s:
            if start_s < reset <= end_s:
                return reset
        return None

    def _event(
        self, names: tuple[EventName, ...], start_s: float, end_s: float
    ) -> LimitEvent | None:
        index = self.steps[0].index
        for event in self.replay.events:
            if (
                event.index == index
                and event.event in names
                and start_s - 1e-6 <= event.time_s <= end_s + 1e-6
            ):
                return event
        return None

    def _seen(self, run: Run) -> str:
        """What the probes read on the mean over a stretch."""
        texts = []
        for name in self.limit.probes:
            probe = self.series.probes.get(name)
            if probe is None:
                continue
            values = measure_over(self.limit, probe)[run[0] : run[1] + 1]
            values = values[np.isfinite(values)]
            if len(values):
                texts.append(f"{name} {length_text(float(np.mean(values)), self.unit)}")
            else:
                texts.append(f"{name} circuit fault")
        return names_text(texts)


def _one_side(limit: Limit, step: ProofStep) -> Limit:
    """The limit as a step drives it: one side, and with one vote one probe."""
    probes = step.probes if limit.votes == 1 else limit.probes
    changes: dict[str, object] = {"probes": probes}
    if step.side == "above":
        changes["below"] = None
    elif step.side == "below":
        changes["above"] = None
    return limit.model_copy(update=changes)


def _applied_value(limit: Limit, gap_um: float, peak_to_peak_um: float) -> float:
    return gap_um if limit.measure == "position" else peak_to_peak_um
