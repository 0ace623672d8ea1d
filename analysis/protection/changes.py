"""What other settings would have changed of the events that came."""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

from analysis.model.replay_results import ChangeKind, LimitEvent, ReplayChange, ReplayResult

from .event_words import seconds_text
from .lengths import names_text
from .limit_logic import TICK_S

_ENDS = ("cleared", "reset")
_DONE = {
    "set": "come",
    "held": "been held by its latch",
    "cleared": "cleared",
    "reset": "been reset",
}


def compare(before: ReplayResult, after: ReplayResult) -> tuple[ReplayChange, ...]:
    """What of the events of one replay is different in another of the same capture.

    Each time that a limit acted, from its `set` to its end, is laid beside the time in the other
    replay that overlaps it. One without a counterpart is told by its `set` alone; of two that
    belong together, each event that moved, is gone or is new. Limits are told apart by their place
    in the setup.
    """
    changes: list[ReplayChange] = []
    for index in range(max(len(before.setup.limit), len(after.setup.limit))):
        changes += _of_limit(_episodes(before, index), _episodes(after, index))
    changes.sort(key=_when)
    return tuple(changes)


class _Episode(NamedTuple):
    """One time that a limit acted: `set`, any `held`, and how it ended (if it did)."""

    events: tuple[LimitEvent, ...]

    @property
    def start_s(self) -> float:
        return self.events[0].time_s

    @property
    def end_s(self) -> float:
        last = self.events[-1]
        return last.time_s if last.event in _ENDS else float("inf")


def _episodes(result: ReplayResult, index: int) -> list[_Episode]:
    own = [event for event in result.events if event.index == index]
    starts = [place for place, event in enumerate(own) if event.event == "set"]
    return [_Episode(tuple(own[a:b])) for a, b in pairwise([*starts, len(own)])]


def _of_limit(before: list[_Episode], after: list[_Episode]) -> list[ReplayChange]:
    changes: list[ReplayChange] = []
    a = b = 0
    while a < len(before) and b < len(after):
        old, new = before[a], after[b]
        if old.start_s <= new.end_s and new.start_s <= old.end_s:
            changes += _of_pair(old, new)
            a, b = a + 1, b + 1
        elif old.start_s < new.start_s:
            changes.append(_gone(old.events[0], _holding(after, old)))
            a += 1
        else:
            changes.append(_new(new.events[0], _holding(before, new)))
            b += 1
    changes += [_gone(old.events[0], _holding(after, old)) for old in before[a:]]
    changes += [_new(new.events[0], _holding(before, new)) for new in after[b:]]
    return changes


def _holding(others: list[_Episode], one: _Episode) -> float | None:
    """Since when the limit was set already, when an episode begins inside one of the others."""
    for other in others:
        if other.start_s < one.start_s <= other.end_s:
            return other.start_s
    return None


def _of_pair(old: _Episode, new: _Episode) -> list[ReplayChange]:
    changes = []
    for name in _DONE:
        was = [event for event in old.events if event.event == name]
        will = [event for event in new.events if event.event == name]
        for one, other in zip(was, will, strict=False):
            if abs(one.time_s - other.time_s) > TICK_S / 2.0:
                changes.append(_moved(one, other))
        changes += [_gone(event, None) for event in was[len(will) :]]
        changes += [_new(event, None) for event in will[len(was) :]]
    return changes


def _gone(event: LimitEvent, set_since_s: float | None) -> ReplayChange:
    who, at = _name(event), _s(event.time_s)
    sentence = f"{who} would not have {_DONE[event.event]} at {at}"
    if event.event == "set":
        sentence = f"{who} at {at} would not have come"
    if set_since_s is not None:
        sentence += f": still set since {_s(set_since_s)}"
    return ReplayChange("gone", event, None, sentence)


def _new(event: LimitEvent, set_since_s: float | None) -> ReplayChange:
    sentence = f"{_name(event)} would have {_DONE[event.event]} at {_s(event.time_s)}"
    if set_since_s is not None:
        sentence += f": now it was still set since {_s(set_since_s)}"
    return ReplayChange("new", None, event, sentence)


def _moved(old: LimitEvent, new: LimitEvent) -> ReplayChange:
    by = new.time_s - old.time_s
    how = f"{_s(abs(by))} {'later' if by > 0.0 else 'earlier'}"
    who, was, done = _name(old), _s(old.time_s), _DONE[old.event]
    sentence = f"{who} would have {done} at {_s(new.time_s)} in place of {was}, {how}"
    if old.event == "set":
        sentence = f"{who} at {was} would have come at {_s(new.time_s)}, {how}"
    return ReplayChange("moved", old, new, sentence)


def _name(event: LimitEvent) -> str:
    return f"{event.level} of {names_text(event.probes)}"


def _s(time_s: float) -> str:
    return f"{seconds_text(time_s)} s"


def _when(change: ReplayChange) -> tuple[float, ChangeKind]:
    event = change.before or change.after
    assert event is not None  # one of them always is
    return event.time_s, change.kind
