"""Which revolutions a span holds: between events, at a speed that the user gave, or blocks."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from analysis.jobs import SILENT, Progress
from analysis.model.capture import Capture
from analysis.model.results import Bools, Floats, TurnKind
from analysis.model.setup import PhaseReference, Setup
from analysis.model.span import TimeSpan
from analysis.signal.peak import strongest_line

from .gap import gap_from_volts
from .phase_reference import OrderedEvents, events_between, order_events, trigger_levels
from .shaft_angle import HALF_WINDOW, ShaftAngle, smoothed

BLOCK_S = 0.1
"""Length of the blocks that stand for revolutions without a phase reference (contract, 5)."""

NEIGHBOURS = HALF_WINDOW + 2
"""Events looked for beyond either end of a span, so that its ends are no worse than its middle."""

_FIRST_LOOK_S = 0.25
_LONGEST_LOOK_S = 40.0
_LONGEST_GUESS_S = 2.0
_FIT_SAMPLES = 1 << 19


@dataclass(frozen=True, eq=False)
class Turns:
    """Whole revolutions in time order, arrays of shape (r,).

    `place[i]` is the turn of `angles[piece[i]]` that revolution `i` is, where the shaft angle is
    known; both are empty in blocks.
    """

    kind: TurnKind
    start_s: Floats
    end_s: Floats
    put_in: Bools
    angles: tuple[ShaftAngle, ...]
    piece: np.ndarray
    place: np.ndarray
    notices: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.start_s)

    @property
    def speed_rpm(self) -> Floats:
        """Mean speed of each revolution, r/min; NaN in blocks."""
        if self.kind == "blocks":
            return np.full(len(self), np.nan)
        speed: Floats = 60.0 / (self.end_s - self.start_s)
        return speed

    def inside(self, span: TimeSpan) -> Turns:
        """The revolutions that lie wholly in a span."""
        # An event on the span's very end is in it, whatever its last digit.
        tiny = 1e-9
        keep = (self.start_s >= span.start_s - tiny) & (self.end_s <= span.end_s + tiny)
        return self.at(np.flatnonzero(keep))

    def nearest(self, moment_s: float, count: int) -> Turns:
        """The `count` consecutive revolutions whose middle is nearest to a moment, or all."""
        if len(self) <= count:
            return self
        first = np.arange(len(self) - count + 1)
        middles = (self.start_s[first] + self.end_s[first + count - 1]) / 2.0
        best = int(np.argmin(np.abs(middles - moment_s)))
        return self.at(np.arange(best, best + count))

    def at(self, rows: np.ndarray) -> Turns:
        """The revolutions of the given rows."""
        known = len(self.piece) > 0
        return Turns(
            self.kind,
            self.start_s[rows],
            self.end_s[rows],
            self.put_in[rows],
            self.angles,
            self.piece[rows] if known else self.piece,
            self.place[rows] if known else self.place,
            self.notices,
        )


def find_turns(
    capture: Capture,
    setup: Setup,
    span: TimeSpan,
    *,
    speed_rpm: float | None = None,
    progress: Progress = SILENT,
) -> Turns:
    """The whole revolutions of a span.

    With a phase reference in the setup, between its events. Else at the speed given, refined to the
    strongest line of the probes' signals near it, so that no amplitude is lost to a speed that is a
    little off. Else blocks of 0.1 s.
    """
    span = span.clipped_to(capture.span)
    reference = setup.phase_reference
    if reference is not None and reference.channel in capture.channels:
        return _turns_between_events(capture, reference, span, progress)
    if speed_rpm is not None:
        turns = _turns_at_speed(capture, setup, span, speed_rpm)
    else:
        turns = _blocks(span)
    if reference is None:
        return turns
    note = f"the capture has no channel {reference.channel}, which the setup takes as reference"
    return replace(turns, notices=(note, *turns.notices))


def turns_around(
    capture: Capture,
    setup: Setup,
    moment_s: float,
    count: int,
    *,
    speed_rpm: float | None = None,
    turn_s: float | None = None,
) -> Turns:
    """The `count` consecutive revolutions whose middle is nearest to a moment.

    Fewer where the capture has fewer within reach. Read no further than is needed. `turn_s` is a
    guess at the length of a turn there, s: with a good one a single look is enough.
    """
    reach = _FIRST_LOOK_S
    if turn_s is not None:
        reach = min(max(0.6 * (count + 3) * turn_s, 0.02), _LONGEST_GUESS_S)
    while True:
        span = TimeSpan(moment_s - reach, moment_s + reach).clipped_to(capture.span)
        turns = find_turns(capture, setup, span, speed_rpm=speed_rpm)
        found, wanted = _scarcer_side(turns, span, capture.span, moment_s, count)
        if found >= wanted or reach > _LONGEST_LOOK_S:
            break
        # As far as the turns found say, and a little more; eight times where they say little.
        reach *= min(max(1.15 * (wanted + 1) / max(found, 1), 1.3), 8.0)
    return turns.nearest(moment_s, count)


def _scarcer_side(
    turns: Turns, span: TimeSpan, whole: TimeSpan, moment_s: float, count: int
) -> tuple[int, int]:
    """Revolutions found and wanted to the side of a moment that lacks more of them.

    Where the capture ends on one side, the other one makes up for it.
    """
    before = int(np.count_nonzero(turns.end_s <= moment_s))
    after = int(np.count_nonzero(turns.start_s > moment_s))
    half = (count + 1) // 2
    sides = []
    if span.start_s > whole.start_s:
        sides.append((before, half if span.end_s < whole.end_s else max(half, count - after)))
    if span.end_s < whole.end_s:
        sides.append((after, half if span.start_s > whole.start_s else max(half, count - before)))
    return min(sides, default=(0, 0), key=lambda side: side[0] - side[1])


def _turns_between_events(
    capture: Capture, reference: PhaseReference, span: TimeSpan, progress: Progress
) -> Turns:
    channel = capture.channels[reference.channel]
    if trigger_levels(channel, reference) is None:
        note = f"no pulses can be told from noise in {channel.id}: blocks of 0.1 s stand for turns"
        blocks = _blocks(span)
        return replace(blocks, notices=(note,))
    wide = _with_neighbours(capture, reference, span, progress)
    events = order_events(wide)
    interval = 1.0 / channel.sample_rate_hz
    turns = _assemble(events, reference.events_per_turn, interval).inside(span)
    notices = _event_notices(events, span, channel.id)
    if len(turns) == 0:
        notices += ("the span holds no whole revolution",)
    return replace(turns, notices=notices)


def _with_neighbours(
    capture: Capture, reference: PhaseReference, span: TimeSpan, progress: Progress
) -> Floats:
    channel = capture.channels[reference.channel]
    wanted = NEIGHBOURS * reference.events_per_turn
    margin = 0.25
    while True:
        wide = span.widened(margin).clipped_to(channel.span)
        times = events_between(channel, reference, wide, progress)
        before = np.count_nonzero(times < span.start_s)
        after = np.count_nonzero(times > span.end_s)
        done_before = before >= wanted or wide.start_s <= channel.span.start_s
        done_after = after >= wanted or wide.end_s >= channel.span.end_s
        if (done_before and done_after) or margin > _LONGEST_LOOK_S:
            return times
        margin *= 2.0


def _assemble(events: OrderedEvents, events_per_turn: int, interval_s: float) -> Turns:
    """Pieces of consecutive turns between gaps, every `events_per_turn`-th event a turn's start."""
    angles: list[ShaftAngle] = []
    starts: list[Floats] = []
    ends: list[Floats] = []
    put_in: list[Bools] = []
    piece: list[np.ndarray] = []
    place: list[np.ndarray] = []
    breaks = np.flatnonzero(events.gap_after) + 1
    for block in np.split(np.arange(len(events.times_s)), breaks):
        at_turns = block[::events_per_turn]
        if len(at_turns) < 2:
            continue
        times = smoothed(events.times_s[at_turns], interval_s)
        starts.append(times[:-1])
        ends.append(times[1:])
        made = events.put_in[at_turns]
        put_in.append(made[:-1] | made[1:])
        piece.append(np.full(len(times) - 1, len(angles)))
        place.append(np.arange(len(times) - 1))
        angles.append(ShaftAngle(times))
    if not angles:
        return _nothing("events")
    return Turns(
        "events",
        np.concatenate(starts),
        np.concatenate(ends),
        np.concatenate(put_in),
        tuple(angles),
        np.concatenate(piece),
        np.concatenate(place),
    )


def _event_notices(events: OrderedEvents, span: TimeSpan, name: str) -> tuple[str, ...]:
    notices: list[str] = []
    for times, what in ((events.missing_s, "missing"), (events.extra_s, "extra")):
        inside = [t for t in times if span.start_s <= t <= span.end_s]
        if inside:
            plural = "pulse" if len(inside) == 1 else "pulses"
            mend = "put in between its neighbours" if what == "missing" else "left out"
            notices.append(
                f"{len(inside)} {what} {plural} in {name}, first at {inside[0]:.3f} s: {mend}"
            )
    at = np.flatnonzero(events.gap_after[:-1])
    starts, ends = events.times_s[at], events.times_s[at + 1]
    gaps = np.flatnonzero((ends > span.start_s) & (starts < span.end_s))
    if len(gaps):
        more = f" and {len(gaps) - 1} more" if len(gaps) > 1 else ""
        notices.append(
            f"no pulses in {name} from {starts[gaps[0]]:.3f} to {ends[gaps[0]]:.3f} s{more}: "
            f"a standstill, or the reference dropped out; no revolutions there"
        )
    return tuple(notices)


def _turns_at_speed(capture: Capture, setup: Setup, span: TimeSpan, speed_rpm: float) -> Turns:
    if not (math.isfinite(speed_rpm) and speed_rpm > 0):
        raise ValueError(f"a speed must be above 0 r/min, not {speed_rpm:g}")
    frequency = _refined(capture, setup, span, speed_rpm / 60.0)
    count = math.floor(span.length_s * frequency + 1e-9)
    times = span.start_s + np.arange(count + 1) / frequency
    if count == 0:
        return _nothing("speed", ("the span is shorter than one turn at the speed given",))
    note = (
        f"no phase reference: turns at {frequency * 60.0:.1f} r/min "
        f"(given {speed_rpm:g}), phase lags are not known"
    )
    return Turns(
        "speed",
        times[:-1],
        times[1:],
        np.zeros(count, dtype=bool),
        (ShaftAngle(times),),
        np.zeros(count, dtype=np.int64),
        np.arange(count),
        (note,),
    )


def _refined(capture: Capture, setup: Setup, span: TimeSpan, frequency: float) -> float:
    """The frequency of the strongest line within 3 % (or two FFT lines) of the one given."""
    best_amplitude, best = 0.0, frequency
    for probe in setup.probe:
        channel = capture.channels.get(probe.channel)
        if channel is None or probe.kind != "radial":
            continue
        start = channel.index_at_or_after(span.start_s)
        stop = channel.index_at_or_after(span.end_s)
        # A long span is judged by its middle.
        surplus = max(stop - start - _FIT_SAMPLES, 0) // 2
        gap = gap_from_volts(channel.volts(start + surplus, stop - surplus), probe)
        reach = max(0.03 * frequency, 2.0 * channel.sample_rate_hz / max(len(gap), 1))
        line = strongest_line(
            gap,
            channel.sample_rate_hz,
            low_hz=max(frequency - reach, 0.0),
            high_hz=frequency + reach,
        )
        if line is not None and line.amplitude > best_amplitude:
            best_amplitude, best = line.amplitude, line.frequency_hz
    return best


def _blocks(span: TimeSpan) -> Turns:
    count = math.floor(span.length_s / BLOCK_S + 1e-9)
    if count == 0 and span.length_s > 0.0:
        # A span shorter than a block is one block of its own.
        starts, ends = np.array([span.start_s]), np.array([span.end_s])
    else:
        starts = span.start_s + BLOCK_S * np.arange(count)
        ends = span.start_s + BLOCK_S * np.arange(1, count + 1)
    empty = np.empty(0, dtype=np.int64)
    return Turns("blocks", starts, ends, np.zeros(len(starts), dtype=bool), (), empty, empty)


def _nothing(kind: TurnKind, notices: tuple[str, ...] = ()) -> Turns:
    empty, none = np.empty(0), np.empty(0, dtype=np.int64)
    return Turns(kind, empty, empty, np.empty(0, dtype=bool), (), none, none, notices)
