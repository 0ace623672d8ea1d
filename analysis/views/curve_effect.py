"""What another calibration curve of one probe makes of the readings of a span."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

from analysis.calibration.curve import with_calibration
from analysis.jobs import SILENT, Part, Progress
from analysis.model.calibration_entries import Row
from analysis.model.capture import Capture
from analysis.model.results import PlaneReading, ProbeReading, Reading, SpanReadings
from analysis.model.setup import Setup
from analysis.model.span import TimeSpan

from .readings import read_span

Kind = Literal["gap", "length", "ratio", "degrees", "current", "state"]

_LOOP_WORDS = {"position": "position", "peak_to_peak": "p-p", "1x": "1X"}


@dataclass(frozen=True)
class EffectRow:
    """One reading before and after; a `state` is a word, everything else a number.

    Lengths are µm, angles degrees, currents mA; `None` where nothing can be known.
    """

    where: str
    what: str
    kind: Kind
    now: float | str | None
    then: float | str | None

    @property
    def change(self) -> float | None:
        """The difference; `None` of words and of what cannot be known."""
        if isinstance(self.now, float) and isinstance(self.then, float):
            difference = self.then - self.now
            if self.kind == "degrees":
                return (difference + 180.0) % 360.0 - 180.0
            return difference
        return None


@dataclass(frozen=True)
class CurveEffect:
    """All readings that the probe's curve has a part in, over the same whole revolutions."""

    probe: str
    span: TimeSpan
    setup: Setup
    rows: tuple[EffectRow, ...]


def setup_with_curve(
    setup: Setup,
    probe: str,
    rows: tuple[Row, ...],
    linear_range_um: tuple[float, float] | None = None,
) -> Setup:
    """The setup with this curve for this probe; see `with_calibration`.

    Raises:
        InputError: when the rows are no curve.
        KeyError: when the setup has no such probe.
    """
    changed = with_calibration(setup.probe_named(probe), rows, linear_range_um=linear_range_um)
    probes = tuple(changed if each.name == probe else each for each in setup.probe)
    return setup.model_copy(update={"probe": probes})


def answer_curve_effect(
    capture: Capture,
    setup: Setup,
    changed: Setup,
    probe: str,
    span: TimeSpan,
    *,
    speed_rpm: float | None = None,
    progress: Progress = SILENT,
) -> CurveEffect:
    """Read a span twice, with both setups, and set the readings side by side.

    Readings of the probe come first, then those of its plane.
    """
    now = read_span(capture, setup, span, speed_rpm=speed_rpm, progress=Part(progress, 0.0, 0.5))
    then = read_span(capture, changed, span, speed_rpm=speed_rpm, progress=Part(progress, 0.5, 1.0))
    planes = [plane.name for plane in setup.plane if probe in plane.probes]
    rows = list(_probe_rows(now, then, probe))
    for plane in planes:
        rows += _plane_rows(now, then, plane)
    return CurveEffect(probe, now.span, changed, tuple(rows))


def _probe_rows(now: SpanReadings, then: SpanReadings, name: str) -> Iterator[EffectRow]:
    one, two = now.probes.get(name), then.probes.get(name)
    if one is None or two is None:
        return
    row = EffectRow(name, "", "length", None, None)
    yield replace(row, what="gap", kind="gap", now=_mean(one.gap_um), then=_mean(two.gap_um))
    yield replace(row, what="p-p", now=_mean(one.peak_to_peak_um), then=_mean(two.peak_to_peak_um))
    for order in sorted(set(one.vectors) & set(two.vectors)):
        a, b = one.vectors[order], two.vectors[order]
        yield replace(row, what=f"{order}X", now=a.amplitude.value, then=b.amplitude.value)
        if a.phase_lag_deg is not None and b.phase_lag_deg is not None:
            yield replace(
                row,
                what=f"{order}X lag",
                kind="degrees",
                now=a.phase_lag_deg.value,
                then=b.phase_lag_deg.value,
            )
    yield replace(row, what="range margin", now=_margin(one), then=_margin(two))
    for measure in one.outputs_ma:
        yield replace(
            row,
            what=f"loop of {_LOOP_WORDS.get(measure, measure)}",
            kind="current",
            now=one.outputs_ma[measure],
            then=two.outputs_ma.get(measure),
        )
    if one.limits:
        yield replace(row, what="state now", kind="state", now=one.condition, then=two.condition)


def _plane_rows(now: SpanReadings, then: SpanReadings, name: str) -> Iterator[EffectRow]:
    one, two = now.planes.get(name), then.planes.get(name)
    if one is None or two is None:
        return
    row = EffectRow(name, "", "length", None, None)
    yield replace(row, what="S max", now=one.s_max_um, then=two.s_max_um)
    for order in sorted(set(one.orbits) & set(two.orbits)):
        a, b = one.orbits[order], two.orbits[order]
        yield replace(row, what=f"orbit {order}X major", now=a.major_um, then=b.major_um)
    yield from _centreline_rows(row, one, two)


def _centreline_rows(row: EffectRow, one: PlaneReading, two: PlaneReading) -> Iterator[EffectRow]:
    a, b = one.centreline, two.centreline
    if a is None or b is None:
        return
    yield replace(row, what="centreline right", now=a.x_um, then=b.x_um)
    yield replace(row, what="centreline up", now=a.y_um, then=b.y_um)
    if a.eccentricity_ratio is not None:
        yield replace(
            row,
            what="eccentricity ratio",
            kind="ratio",
            now=a.eccentricity_ratio,
            then=b.eccentricity_ratio,
        )


def _mean(reading: Reading | None) -> float | None:
    return None if reading is None else reading.value


def _margin(reading: ProbeReading) -> float | None:
    return None if reading.linear_range is None else reading.linear_range.margin_um
