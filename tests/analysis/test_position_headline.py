"""The first sentence of the Position page, on the samples and on made cases."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from analysis.files.open import open_capture
from analysis.files.setup_read import parse_setup
from analysis.model.position_results import Finding, HiddenPeak
from analysis.model.span import TimeSpan
from analysis.model.units import LengthUnit
from analysis.views.position import (
    PositionRequest,
    PositionResult,
    answer_position,
    capture_position,
)
from analysis.views.position_headline import headline_of
from analysis.views.timeline import answer_timeline

SAMPLES = Path(__file__).parents[2] / "sample_data"


def answered(name: str, unit: LengthUnit = LengthUnit.UM) -> PositionResult:
    capture = open_capture(SAMPLES / name)
    setup, _ = parse_setup(capture.setup_toml, name)
    whole = capture_position(capture, setup, answer_timeline(capture, setup).table)
    return answer_position(capture, setup, PositionRequest(moment_s=10.0, unit=unit), whole)


@pytest.fixture(scope="module")
def edge() -> PositionResult:
    return answered("edge_of_range.h5")


def headline(result: PositionResult, **changed) -> Finding:
    return headline_of(
        changed.get("probes", result.probes), changed.get("findings", result.findings)
    )


def test_the_edge_of_the_range_is_told_whole(edge):
    found = headline(edge)
    assert found.severity == "severe"
    assert found.subject == "NDE-X"
    use = edge.probes["NDE-X"].capture
    away = 2280.0 - use.mean_um
    # The recipe sets the mean some 33 µm from 2280 µm.
    assert 25.0 < away < 45.0
    assert f"NDE-X sits {away:.1f} µm from the far end of its linear range" in found.sentence
    assert f"since {use.stretches[0].span.start_s:.2f} s its peaks go past it" in found.sentence
    share = 100.0 * use.outside_turns / use.turns
    assert f"in {share:.0f} % of the turns" in found.sentence
    assert found.sentence.endswith("p-p is not to be relied on then")


def test_lengths_are_written_in_the_readers_unit():
    found = headline_of(
        *(lambda r: (r.probes, r.findings))(answered("edge_of_range.h5", LengthUnit.MIL)),
        LengthUnit.MIL,
    )
    assert "mil" in found.sentence
    assert "µm" not in found.sentence


def test_a_clear_loss_is_told_with_both_values(edge):
    probe = edge.probes["NDE-X"]
    lost = HiddenPeak(TimeSpan(17.0, 17.1), 80.0, 95.0, 2.0, 0.6)
    probes = {**edge.probes, "NDE-X": replace(probe, hidden=lost)}
    assert "p-p reads low then: 80 µm p-p where some 95 µm p-p were" in (
        headline(edge, probes=probes).sentence
    )


def test_a_mean_beyond_the_end_is_said(edge):
    probe = edge.probes["NDE-X"]
    use = replace(
        probe.capture,
        mean_um=2300.0,
        stretches=tuple(replace(each, mean_outside=True) for each in probe.capture.stretches),
    )
    told = headline(edge, probes={**edge.probes, "NDE-X": replace(probe, capture=use)}).sentence
    assert "sits 20 µm beyond the far end" in told
    assert "the gap itself goes past it" in told


def test_few_turns_are_never_none(edge):
    probe = edge.probes["NDE-X"]
    use = replace(probe.capture, turns=1_000_000, outside_turns=3)
    told = headline(edge, probes={**edge.probes, "NDE-X": replace(probe, capture=use)}).sentence
    assert "in under 0.1 % of the turns" in told


def test_a_capture_in_order_names_the_probe_that_comes_nearest():
    result = answered("run_up.h5")
    found = headline(result)
    assert found.severity == "in_order"
    margins = {name: p.capture.margin_um for name, p in result.probes.items()}
    nearest = min(margins, key=margins.get)
    assert found.subject == nearest
    assert found.sentence.startswith("All 6 probes stay inside their linear ranges")
    assert f"{margins[nearest]:.1f} µm" in found.sentence


def test_a_probe_without_a_range_is_not_said_to_stay_inside(edge):
    calm = tuple(f for f in edge.findings if f.severity in ("note", "in_order"))
    unknown = replace(
        edge.probes["DE-X"].capture, near_margin_um=None, far_margin_um=None, near_share=None
    )
    probes = {**edge.probes, "DE-X": replace(edge.probes["DE-X"], capture=unknown)}
    assert headline(edge, probes=probes, findings=calm) == calm[0]


def test_a_warning_stands_as_it_is(edge):
    warnings = tuple(f for f in edge.findings if f.severity == "warning")
    assert headline(edge, findings=warnings) == warnings[0]


def test_nothing_known_gives_nothing():
    assert headline_of({}, ()) is None
