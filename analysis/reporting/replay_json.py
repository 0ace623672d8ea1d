"""The JSON of `replay` (contract, section 6) as plain data.

Beside the keys of the contract there are, all of them free to be left unread:

- top: `capture`, `span_s` (first and last tick), `resets_s` (the resets given), `limits`, `relays`,
  `notices` (sentences that belong beside the numbers);
- an event: `limit` (its place among the setup's `[[limit]]` tables, from 0), `why` (a sentence),
  `first_out` (of a `set`: its rank among the limits of its level that have set since all of them
  were clear); `value_um` is `null` where a circuit fault decides;
- a limit: `probes`, `measure`, `level`, `states` (`[from, to, state]`, without gaps; state one
  of `normal`, `waiting`, `set`, `held`, `void`);
- a relay, by name: `driven_by`, `assumed` (the setup has none), `states` (`[from, to, "closed" or
  "open"]`, what a meter across the contact would read).

Events of circuit faults belong to no limit: `measure`, `level` and `limit` are `null`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from analysis.model.replay_results import LimitEvent, ReplayResult
from analysis.protection.contacts import relays_assumed, relays_of


def replay_document(
    capture_name: str, result: ReplayResult, notices: Sequence[str] = ()
) -> dict[str, Any]:
    """A replay as the object that `replay --json` prints; lengths µm, times s."""
    times = result.series.time_s
    assumed = relays_assumed(result.setup)
    return {
        "capture": capture_name,
        "span_s": [_time(float(times[0])), _time(float(times[-1]))] if len(times) else None,
        "events": [_event(event) for event in result.events],
        "resets_s": list(result.resets_s),
        "limits": [
            {
                "probes": list(limit.probes),
                "measure": limit.measure,
                "level": limit.level,
                "states": [[_time(run.start_s), _time(run.end_s), run.state] for run in runs],
            }
            for limit, runs in zip(result.setup.limit, result.states, strict=True)
        ],
        "relays": {
            relay.name: {
                "driven_by": relay.driven_by,
                "assumed": assumed,
                "states": [
                    [_time(run.start_s), _time(run.end_s), "closed" if run.closed else "open"]
                    for run in result.relays[relay.name]
                ],
            }
            for relay in relays_of(result.setup)
        },
        "notices": [*notices, *result.series.notices],
    }


def _event(event: LimitEvent) -> dict[str, Any]:
    value = event.value_um
    return {
        "time_s": _time(event.time_s),
        "probes": list(event.probes),
        "measure": event.measure,
        "level": event.level,
        "event": event.event,
        "value_um": float(value) if value is not None and math.isfinite(value) else None,
        "limit": event.index,
        "first_out": event.first_out,
        "why": event.why,
    }


def _time(time_s: float) -> float:
    """A time without the last digits of a sum of tenths."""
    return round(time_s, 6)
