"""A replay as text for people: events, states at the end, contacts, notices."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.model.replay_results import LimitEvent, ReplayResult
from analysis.model.units import LengthUnit
from analysis.protection.contacts import relays_assumed
from analysis.protection.event_words import MEASURE_WORDS, seconds_text

from .caution import CAUTION
from .text_table import text_table

_DASH = "-"
_WORDS = {
    "set": "set",
    "held": "held by latch",
    "cleared": "cleared",
    "reset": "reset",
    "fault": "circuit fault",
    "fault_cleared": "circuit fault gone",
}


def replay_text(
    result: ReplayResult, notices: Sequence[str] = (), unit: LengthUnit = LengthUnit.UM
) -> str:
    """Every event of a replay as a table; readings in `unit`. Ends with a line break."""
    times = result.series.time_s
    blocks = []
    if len(times):
        start, end = seconds_text(float(times[0])), seconds_text(float(times[-1]))
        count = len(result.setup.limit)
        limits = f"{count} limit{'' if count == 1 else 's'}"
        blocks.append([f"{limits}, judged every 0.1 s from {start} to {end} s"])
    if result.events:
        head = ["Time, s", "Probes", "Event", f"Reading, {unit.value}", "First out", "Why"]
        blocks.append(_left(head, [_row(event, unit) for event in result.events]))
    else:
        blocks.append(["No limit acted, and no circuit was at fault."])
    blocks.append(_at_the_end(result))
    blocks.append(_contacts(result))
    blocks.append([f"Note: {notice}" for notice in [*notices, *result.series.notices]])
    blocks.append([CAUTION])
    return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"


def _row(event: LimitEvent, unit: LengthUnit) -> list[str]:
    level, measure = event.level, event.measure
    what = _WORDS[event.event]
    if level is not None and measure is not None:
        what = f"{MEASURE_WORDS[measure]} {level} {what}"
    reading = _DASH
    if event.value_um is not None:
        reading = f"{event.value_um * unit.per_um:.{unit.decimals}f}"
    rank = _DASH if event.first_out is None else str(event.first_out)
    return [seconds_text(event.time_s), ", ".join(event.probes), what, reading, rank, event.why]


def _left(head: list[str], rows: list[list[str]]) -> list[str]:
    """A table with the texts flush left, since `text_table` sets what follows the first right."""
    widths = [max(len(row[i]) for row in [head, *rows]) for i in range(len(head))]
    flush_left = (1, 2, 5)
    lines = []
    for row in [head, *rows]:
        cells = [
            cell.ljust(width) if i in flush_left else cell.rjust(width)
            for i, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append("  ".join(cells).rstrip())
    return lines


def _at_the_end(result: ReplayResult) -> list[str]:
    """The limits that are still set or held at the last tick."""
    rows = []
    for index, (limit, runs) in enumerate(zip(result.setup.limit, result.states, strict=True)):
        if runs and runs[-1].state in ("set", "held"):
            what = f"{MEASURE_WORDS[limit.measure]} {limit.level} (limit {index + 1})"
            rows.append([", ".join(limit.probes), what, runs[-1].state])
    return text_table(["At the end", "limit", "state"], rows) if rows else []


def _contacts(result: ReplayResult) -> list[str]:
    rows = []
    for name, runs in result.relays.items():
        changes = [
            f"{'closes' if run.closed else 'opens'} {seconds_text(run.start_s)}" for run in runs[1:]
        ]
        if runs:
            first = "closed" if runs[0].closed else "open"
            rows.append([name, first, ", ".join(changes) or "no change"])
    if not rows:
        return []
    lines = _left_all(["Relay", "At first", "Then, s"], rows)
    if relays_assumed(result.setup):
        lines.append(
            "The setup has no [[relay]]: normally open contacts, energised while something acts, "
            "are assumed."
        )
    return lines


def _left_all(head: list[str], rows: list[list[str]]) -> list[str]:
    widths = [max(len(row[i]) for row in [head, *rows]) for i in range(len(head))]
    return [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in [head, *rows]
    ]
