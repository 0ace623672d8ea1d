"""What a replay of a capture through its limits answers: measures, events, states, contacts.

Lengths are µm, times seconds of capture time. The measures are taken every 0.1 s over the last
0.1 s or the last full revolution, whichever is longer (contract, section 5); a **tick** is the
instant at which one is taken.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from .results import Bools, Complexes, Floats
from .setup import Setup

EventName = Literal["set", "held", "cleared", "reset", "fault", "fault_cleared"]
"""`held`: the condition is gone and the latch holds; `reset`: a reset let go of it."""

LimitState = Literal["normal", "waiting", "set", "held", "void"]
"""`waiting`: the condition is met and the delay runs; `void`: nothing can be judged."""


@dataclass(frozen=True, eq=False)
class MonitoredProbe:
    """Measures of one probe at each tick, arrays of shape (k,).

    NaN where there is none; everything is NaN where `fault` is set. `first_order` is the 1X vector
    (complex, µm p-p); its argument means nothing unless `MonitorSeries.phase_known`.
    """

    peak_to_peak_um: Floats
    gap_um: Floats
    first_order: Complexes
    fault: Bools


@dataclass(frozen=True, eq=False)
class MonitorSeries:
    """What limits look at: one column a probe, one row a tick, ticks 0.1 s apart, shape (k,)."""

    time_s: Floats
    speed_rpm: Floats
    probes: Mapping[str, MonitoredProbe]
    phase_known: bool
    notices: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.time_s)


@dataclass(frozen=True)
class LimitEvent:
    """One change of a limit's state, or of a circuit (`index`, `measure`, `level` are `None`).

    `index` is the limit's place in `setup.limit`. `why` is a sentence for people. `first_out` is
    the rank among the limits of the same level that have set since all of them were clear: 1 set
    first.
    """

    time_s: float
    event: EventName
    probes: tuple[str, ...]
    index: int | None
    measure: str | None
    level: str | None
    value_um: float | None
    why: str
    first_out: int | None = None


@dataclass(frozen=True)
class StateRun:
    """A stretch of time in which a limit is in one state."""

    start_s: float
    end_s: float
    state: LimitState


@dataclass(frozen=True)
class RelayRun:
    """A stretch of time in which a relay does not change.

    `active`: something that drives it is set (or at fault). `energised`: its coil has current.
    `closed`: what a meter across the contact reads: closed (near 0 Ω) or open.
    """

    start_s: float
    end_s: float
    active: bool
    energised: bool
    closed: bool


@dataclass(frozen=True, eq=False)
class ReplayResult:
    """A capture replayed through the limits of one setup.

    `states` has one entry a limit of the setup, in its order, without gaps from the first tick to
    the last; `relays` one a relay, by name. `resets_s` are the resets that were asked for, in order
    of time; those that let go of nothing have no event.
    """

    setup: Setup
    series: MonitorSeries
    events: tuple[LimitEvent, ...]
    states: tuple[tuple[StateRun, ...], ...]
    relays: Mapping[str, tuple[RelayRun, ...]]
    resets_s: tuple[float, ...]


ChangeKind = Literal["gone", "new", "moved"]


@dataclass(frozen=True)
class ReplayChange:
    """What a trial setting would have changed of one event of the settings in force.

    `gone`: would not have come (`before` only); `new`: would have come besides (`after` only);
    `moved`: would have come at another time. `sentence` is for people.
    """

    kind: ChangeKind
    before: LimitEvent | None
    after: LimitEvent | None
    sentence: str


@dataclass(frozen=True, eq=False)
class BoundaryCurve:
    """For every delay the level that would just have acted, arrays of shape (d,).

    On the side `"above"` a limit set at `level_um` or lower acts, on the side `"below"` one set at
    `level_um` or higher. NaN where no level acts at that delay (the capture is shorter, or
    the measure is void); infinite where circuit faults alone act, whatever the level.
    """

    side: Literal["above", "below"]
    delay_s: Floats
    level_um: Floats


@dataclass(frozen=True)
class Margin:
    """How far the present setting is from acting (or from not acting) on one side.

    `level_um`: positive, the setting could come nearer by so much and would still not act;
    negative, it acted and would have to go further away by so much. `delay_s` likewise: delay minus
    the longest time that the condition held. `None` where nothing can be judged; `delay_s` also
    where the condition never held, so that no delay is short enough to act.
    """

    side: Literal["above", "below"]
    acts: bool
    level_um: float | None
    delay_s: float | None


@dataclass(frozen=True, eq=False)
class TripBoundary:
    """The boundary of one limit: of each capture by its name, and of all of them together."""

    index: int
    curves: Mapping[str, tuple[BoundaryCurve, ...]]
    together: tuple[BoundaryCurve, ...]
    margins: tuple[Margin, ...]
