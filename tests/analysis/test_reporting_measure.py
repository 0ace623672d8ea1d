"""What `measure` says, as plain data and as text."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import pytest

from analysis.model.results import (
    Centreline,
    Ellipse,
    LimitReading,
    LinearRangeReading,
    PlaneReading,
    ProbeReading,
    Reading,
    SpanReadings,
    SpeedReading,
    VectorReading,
)
from analysis.model.span import TimeSpan
from analysis.model.units import LengthUnit
from analysis.reporting.measure_json import measure_document, volts_document
from analysis.reporting.readings_text import readings_text, volts_text

PROBE = ProbeReading(
    name="DE-X",
    gap_v=Reading(-9.684, 0.001),
    gap_um=Reading(1229.8, 0.1),
    peak_to_peak_um=Reading(127.0, 1.1),
    peak_to_peak_max_um=133.9,
    vectors={1: VectorReading(1, 120 + 0j, Reading(120.0, 1.3), Reading(155.3, 3.8))},
    linear_range=LinearRangeReading(1161.0, 1295.1, 911.0, 0.0004),
    outputs_ma={"peak_to_peak": 14.16},
    circuit_fault=False,
    fault_fraction=0.0,
    condition="trip",
    limits=(LimitReading(1, "DE-X", 127.0, 125.0, None, True),),
    zone="B",
)
VOID = ProbeReading(
    name="DE-Y",
    gap_v=None,
    gap_um=None,
    peak_to_peak_um=None,
    peak_to_peak_max_um=None,
    vectors={},
    linear_range=None,
    outputs_ma={},
    circuit_fault=True,
    fault_fraction=1.0,
    condition="fault",
    limits=(),
)
READINGS = SpanReadings(
    span=TimeSpan(39.0, 39.5),
    speed=SpeedReading(3102.2, 3080.5, 3123.9, 25, "events"),
    probes={"DE-X": PROBE, "DE-Y": VOID},
    planes={
        "Drive end": PlaneReading(
            "Drive end",
            70.5,
            {1: Ellipse(1, 50 + 0j, 15j, 130.0, 70.0, 45.0, "forward")},
            Centreline(52.8, -59.4, 0.663, 41.6),
        ),
        "Void end": PlaneReading("Void end", None, {}, None),
    },
    notices=("2 events were missing and have been put in",),
)


def without(table: dict[str, object], *extra: str) -> dict[str, object]:
    return {key: value for key, value in table.items() if key not in extra}


def test_the_object_of_the_contract() -> None:
    document = measure_document("run.h5", READINGS)
    assert set(document) == {"capture", "span_s", "speed_rpm", "probes", "planes", "notices"}
    assert document["capture"] == "run.h5"
    assert document["span_s"] == [39.0, 39.5]
    assert without(document["speed_rpm"], "kind") == {
        "mean": 3102.2,
        "min": 3080.5,
        "max": 3123.9,
        "revolutions": 25,
    }
    probe = document["probes"]["DE-X"]
    assert set(probe) - {"scatter", "fault_fraction", "condition", "limits", "zone"} == {
        "gap_v",
        "gap_um",
        "peak_to_peak_um",
        "peak_to_peak_max_um",
        "vectors",
        "linear_range",
        "outputs_ma",
        "circuit_fault",
    }
    assert probe["gap_v"] == -9.684
    assert probe["gap_um"] == 1229.8
    assert probe["peak_to_peak_um"] == 127.0
    assert probe["peak_to_peak_max_um"] == 133.9
    scatter = ("amplitude_scatter_um_pp", "phase_lag_scatter_deg")
    assert without(probe["vectors"]["1"], *scatter) == {
        "amplitude_um_pp": 120.0,
        "phase_lag_deg": 155.3,
    }
    assert probe["linear_range"] == {
        "min_um": 1161.0,
        "max_um": 1295.1,
        "margin_um": 911.0,
        "outside_fraction": 0.0004,
    }
    assert probe["outputs_ma"] == {"position": None, "peak_to_peak": 14.16}
    assert probe["circuit_fault"] is False
    assert document["planes"]["Drive end"] == {
        "s_max_um": 70.5,
        "orbit": {
            "1": {
                "major_um_pp": 130.0,
                "minor_um_pp": 70.0,
                "inclination_deg": 45.0,
                "precession": "forward",
            },
            "2": dict.fromkeys(("major_um_pp", "minor_um_pp", "inclination_deg", "precession")),
        },
        "centreline": {
            "x_um": 52.8,
            "y_um": -59.4,
            "eccentricity_ratio": 0.663,
            "attitude_deg": 41.6,
        },
    }


def test_what_is_missing_is_null_and_never_zero() -> None:
    document = measure_document("run.h5", READINGS)
    void = document["probes"]["DE-Y"]
    assert void["circuit_fault"] is True
    for key in ("gap_v", "gap_um", "peak_to_peak_um", "peak_to_peak_max_um", "zone"):
        assert void[key] is None
    for table in (void["vectors"]["1"], void["vectors"]["2"], void["linear_range"]):
        assert set(table.values()) == {None}
    assert document["planes"]["Void end"]["s_max_um"] is None
    assert set(document["planes"]["Void end"]["centreline"].values()) == {None}


def test_no_reading_can_break_the_json() -> None:
    odd = replace(PROBE, gap_um=Reading(math.nan, math.inf), peak_to_peak_max_um=-math.inf)
    document = measure_document("x", replace(READINGS, probes={"DE-X": odd}), orders=(1, 3))
    text = json.dumps(document, allow_nan=False)
    assert json.loads(text)["probes"]["DE-X"]["gap_um"] is None
    assert list(document["probes"]["DE-X"]["vectors"]) == ["1", "3"]


def test_volts_alone() -> None:
    document = volts_document("x", TimeSpan(0.0, 1.0), {"CH1": Reading(-9.5, 0.2)})
    channel = document["probes"]["CH1"]
    assert channel["gap_v"] == -9.5
    assert channel["gap_um"] is None
    assert set(channel) == set(measure_document("x", READINGS)["probes"]["DE-X"]) - {
        "scatter",
        "fault_fraction",
        "condition",
        "limits",
        "zone",
    }
    text = volts_text(TimeSpan(0.0, 1.0), {"CH1": Reading(-9.5, 0.2)})
    assert "-9.500 ±0.200" in text


def test_text_tells_values_units_scatter_and_caution() -> None:
    text = readings_text(READINGS)
    for part in (
        "39.000 to 39.500 s",
        "3102.2 r/min (3080.5 to 3123.9), 25 revolutions",
        "1229.8 ±0.1",
        "127.0 ±1.1",
        "155.3 ±3.8",
        "130.0 x 70.0",
        "<0.1 %",
        "circuit fault in 100.0 % of the samples",
        "above 125.0",
        "Note: 2 events were missing",
        "no protection system",
    ):
        assert part in text
    assert text.endswith("\n")


def test_text_in_mil() -> None:
    # 127 µm is 5 mil exactly (1 mil = 25.4 µm).
    text = readings_text(READINGS, LengthUnit.MIL)
    assert "5.00 ±0.04" in text
    assert "p-p, mil" in text
    assert "µm" not in text


def test_columns_stand_under_their_heads() -> None:
    lines = readings_text(READINGS).splitlines()
    head = next(line for line in lines if line.startswith("Probe"))
    row = next(line for line in lines if line.startswith("DE-X"))
    end = head.index("Gap, µm") + len("Gap, µm")
    assert row[:end].endswith("1229.8 ±0.1")


@pytest.mark.parametrize(
    ("speed", "told"),
    [
        (SpeedReading(None, None, None, 30, "blocks"), "not known; 30 blocks of 0.1 s"),
        (
            SpeedReading(2962.0, 2962.0, 2962.0, 1, "speed"),
            "2962.0 r/min, found near the speed given; 1 revolution",
        ),
    ],
)
def test_speed_without_a_reference(speed: SpeedReading, told: str) -> None:
    assert told in readings_text(replace(READINGS, speed=speed))
