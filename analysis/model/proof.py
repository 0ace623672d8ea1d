"""The steps of a proof test, and how each came out. Lengths are µm, times seconds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from .record import Outcome
from .replay_results import EventName
from .setup import Limit

StepKind = Literal[
    "prepare",
    "start",
    "near",
    "one_short",
    "burst",
    "beyond",
    "fault_vote",
    "reset_present",
    "back",
    "reset",
    "fault",
    "restore",
    "finish",
]
"""`start`: nothing acts; `near`: just inside the limit; `one_short`: a vote is missing; `burst`:
beyond for less than the delay; `beyond`: beyond for the delay; `fault_vote`: a circuit fault votes
with the others; `back`: inside again; `fault`, `restore`: the probe's cable opened and closed."""

Side = Literal["above", "below", "outside"]


@dataclass(frozen=True)
class Applied:
    """What is applied to one probe: vibration about a gap, as lengths and as the volts they are.

    `open_circuit`: the probe's cable is open and the rest means nothing. `lag_deg` is the phase
    lag of the vibration where the limit asks for one.
    """

    probe: str
    peak_to_peak_um: float
    gap_um: float
    peak_to_peak_mv: float
    gap_v: float
    open_circuit: bool = False
    lag_deg: float | None = None


@dataclass(frozen=True)
class ExpectedReading:
    """One thing to read in a step.

    `where` names the place, `text` what should be read there. A number has `value`, `unit` and
    `tolerance`; anything else has the `choices` that a reader may find, of which `text` is one.
    """

    where: str
    text: str
    value: float | None = None
    unit: Literal["", "mA", "V", "s"] = ""
    tolerance: float | None = None
    choices: tuple[str, ...] = ()


@dataclass(frozen=True)
class ProofStep:
    """One step: what to apply, for how long, what to expect.

    `group` counts the sequences (one limit, one side, one set of probes; or one circuit fault) from
    0; -1 before and after them; `subject` is what the sequence tries, `title` what the step does
    of it. `limit` is the limit that the step was written for (its place is
    `index`); `probes` are those that are driven. `event` is what the limit or the circuit should
    do, `None`: nothing, and `after_s` how long after the change it should come.
    """

    number: int
    kind: StepKind
    group: int
    title: str
    do: str
    applied: tuple[Applied, ...] = ()
    hold_s: float | None = None
    expected: tuple[ExpectedReading, ...] = ()
    index: int | None = None
    limit: Limit | None = None
    side: Side | None = None
    probes: tuple[str, ...] = ()
    event: EventName | None = None
    after_s: float | None = None
    subject: str = ""

    @property
    def full_title(self) -> str:
        """Subject and title, such as `DE-X: p-p trip above 125 µm, back inside`."""
        return f"{self.subject}, {self.title}" if self.subject else self.title


@dataclass(frozen=True)
class StepResult:
    """How a step came out: by hand, or as found in a capture from `start_s` to `end_s`.

    `read` is what was read, one line a thing; `remark` says why it failed or was not found.
    `by_hand`: a person read or judged it; a capture alone holds no relay and no loop.
    """

    number: int
    result: Outcome
    read: str = ""
    remark: str = ""
    start_s: float | None = None
    end_s: float | None = None
    by_hand: bool = False
