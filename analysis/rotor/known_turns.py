"""Revolutions about a moment out of a table that a pass over the capture has made already.

What the pass has found need not be sought again for every moment that is looked at: neither the
events, nor the rows of the revolutions.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.model.results import ProbeRevolutions, RevolutionTable

from .shaft_angle import ShaftAngle
from .turns import Turns

_BESIDE = 1
"""Turns to either side that the shaft angle within a turn depends on."""


@dataclass(frozen=True, eq=False)
class KnownTurns:
    """Consecutive revolutions of a table, as they would be found in the capture itself."""

    turns: Turns
    table: RevolutionTable
    first: int
    """The table's row that the shaft angle of `turns` begins with."""

    def rows_of(self, turns: Turns, orders: tuple[int, ...]) -> RevolutionTable | None:
        """The table's rows of some of the turns; `None` where it lacks one of the orders."""
        rows = self.first + turns.place
        probes: dict[str, ProbeRevolutions] = {}
        for name, probe in self.table.probes.items():
            if not set(orders) <= set(probe.vectors):
                return None
            probes[name] = ProbeRevolutions(
                gap_v=probe.gap_v[rows],
                gap_um=probe.gap_um[rows],
                min_um=probe.min_um[rows],
                max_um=probe.max_um[rows],
                vectors={order: probe.vectors[order][rows] for order in orders},
                samples=probe.samples[rows],
                fault=probe.fault[rows],
            )
        return RevolutionTable(
            kind=self.table.kind,
            start_s=turns.start_s,
            end_s=turns.end_s,
            speed_rpm=self.table.speed_rpm[rows],
            repaired=turns.put_in,
            probes=probes,
        )


def known_around(table: RevolutionTable, moment_s: float, count: int) -> KnownTurns | None:
    """The `count` consecutive revolutions whose middle is nearest to a moment, out of a table.

    `None` where the table cannot stand for the capture: there are no events, the moment lies at an
    end of what is known or in a gap, or something is to be told of the events (`notices`), which a
    table has for all of the capture only.

    Args:
        table: the table of the capture, or of its beginning.
        moment_s: the moment, s.
        count: how many revolutions.
    """
    if table.kind != "events" or table.notices:
        return None
    at = int(np.searchsorted(table.start_s, moment_s, side="right")) - 1
    # The nearest window begins half of its turns before; speeds that change shift it by fewer.
    low, high = at - count - _BESIDE, at + count + _BESIDE + 1
    if low < 0 or high > len(table):
        return None
    starts, ends = table.start_s[low:high], table.end_s[low:high]
    if table.repaired[low:high].any() or not np.array_equal(starts[1:], ends[:-1]):
        return None
    place = np.arange(high - low)
    turns = Turns(
        "events",
        starts,
        ends,
        np.zeros(len(starts), dtype=bool),
        (ShaftAngle(np.append(starts, ends[-1])),),
        np.zeros(len(starts), dtype=np.int64),
        place,
    )
    inner = turns.at(place[_BESIDE:-_BESIDE])
    return KnownTurns(inner.nearest(moment_s, count), table, low)
