"""Events of limits in words: what happened, with which shape, and what was read."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.plots.limit_words import length_unit, manner_words, quantity, value_text
from app.plots.style import state_mark

from . import words

if TYPE_CHECKING:
    from analysis.model.replay_results import LimitEvent
    from analysis.model.setup import Limit, Setup
    from analysis.model.units import LengthUnit

_HAPPENED = {"set": "set", "held": "held by latch", "cleared": "cleared", "reset": "reset"}
_OF_CIRCUIT = {"fault": "circuit fault", "fault_cleared": "circuit fault gone"}


def setting_words(limit: Limit, unit: LengthUnit) -> str:
    """All settings of a limit in one line: `125 µm p-p · 1 s · latching`."""
    level = value_text(limit, unit)
    if getattr(limit, "region", None) is None:
        level = level.replace(unit.value, length_unit(limit.measure, unit))
    manner = manner_words(limit, unit)
    if not limit.latching:
        manner.insert(1, "not latching")
    return " · ".join([level, *manner])


def event_words(event: LimitEvent, setup: Setup) -> str:
    """What happened: `trip set, latched`, `gap alarm cleared`, `circuit fault`."""
    if event.index is None or event.level is None:
        return _OF_CIRCUIT.get(event.event, event.event)
    limit = setup.limit[event.index]
    kind = "" if limit.measure == "peak_to_peak" else f"{quantity(limit.measure)} "
    latched = ", latched" if event.event == "set" and limit.latching else ""
    return f"{kind}{event.level} {_HAPPENED.get(event.event, event.event)}{latched}"


def event_mark(event: LimitEvent) -> tuple[str, str]:
    """The shape and the palette's state of an event: filled when it acts, a dash when it ends."""
    if event.event == "fault":
        return state_mark("fault")
    if event.event in ("set", "held") and event.level is not None:
        return state_mark(event.level)[0], event.level
    return "–", "unknown"


def reading_words(event: LimitEvent, unit: LengthUnit) -> str:
    """What was read then, with its unit; a dash where nothing was."""
    if event.value_um is None:
        return words.DASH
    return f"{words.short_length(event.value_um, unit)} {unit.value}"


def time_words(event: LimitEvent) -> str:
    """When: ticks are 0.1 s apart, a reset has its own time: `39.9 s`, `140.05 s`."""
    text = words.number(event.time_s, 2)
    return f"{text.removesuffix('0')} s"
