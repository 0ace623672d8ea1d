"""`runtrue replay`: the contract's JSON, a table for people, and what it refuses."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from analysis.files.hdf5_write import write_hdf5
from analysis.files.setup_write import setup_to_toml
from analysis.model.capture import Capture
from analysis.model.setup import Setup
from app.cli.main import main
from tests.analysis.alarm_captures import setup_with, step_capture

SAMPLES = Path(__file__).parents[2] / "sample_data"
RUN_UP = str(SAMPLES / "run_up.h5")
EVENTS = {"set", "held", "cleared", "reset", "fault", "fault_cleared"}

ALARM = {
    "probes": ["X"],
    "measure": "peak_to_peak",
    "level": "alarm",
    "above": 95.0,
    "delay_s": 1.0,
}
TRIP = {**ALARM, "level": "trip", "above": 120.0, "latching": True}


@pytest.fixture
def make(tmp_path: Path):
    def made(setup: Setup | None, seconds: float = 12.0, **more: Any) -> str:
        levels = {"X": [(0.0, 30.0), (3.0, 130.0), (7.0, 40.0)], "Y": [(0.0, 30.0)]}
        capture = step_capture(seconds, levels, faults={"Y": [(8.5, 9.5)]}, **more)
        text = None if setup is None else setup_to_toml(setup)
        path = tmp_path / "steps.h5"
        write_hdf5(path, Capture("steps", capture.channels, setup_toml=text))
        return str(path)

    return made


def document(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, Any]:
    assert main(["replay", *words, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert isinstance(found, dict)
    return found


def refused(capsys: pytest.CaptureFixture[str], status: int, *words: str) -> str:
    assert main(["replay", *words]) == status
    told = capsys.readouterr()
    assert told.out == ""
    assert "Traceback" not in told.err
    if status == 1:
        assert told.err.startswith("runtrue: ")
        assert told.err.count("\n") == 1
    return told.err


def test_json_is_that_of_the_contract(make, capsys) -> None:
    found = document(capsys, make(setup_with(ALARM, TRIP)), "--reset", "10.03", "--reset", "5")
    events = found["events"]
    assert [(e["event"], e["level"], e["probes"]) for e in events] == [
        ("set", "alarm", ["X"]),
        ("set", "trip", ["X"]),
        ("held", "trip", ["X"]),
        ("cleared", "alarm", ["X"]),
        ("fault", None, ["Y"]),
        ("fault_cleared", None, ["Y"]),
        ("reset", "trip", ["X"]),
    ]
    for event in events:
        keys = {"time_s", "probes", "measure", "level", "event", "value_um"}
        assert set(event) == keys | {"limit", "first_out", "why"}
        assert event["event"] in EVENTS
    assert [e["time_s"] for e in events] == pytest.approx(
        [4.1, 4.1, 7.1, 8.1, 8.6, 9.6, 10.03], abs=0.15
    )
    assert events[0]["value_um"] == pytest.approx(130.0, rel=2e-3)
    assert events[4]["value_um"] is None
    assert found["resets_s"] == [5.0, 10.03]
    assert found["capture"] == "steps.h5"
    assert [limit["level"] for limit in found["limits"]] == ["alarm", "trip"]
    assert found["limits"][1]["states"][-1][2] == "normal"
    assert found["relays"]["TRIP"]["assumed"] is True
    assert [state for *_, state in found["relays"]["TRIP"]["states"]] == ["open", "closed", "open"]


def test_the_sample_run_up_trips_with_one_second_and_not_with_two(tmp_path, capsys) -> None:
    from analysis.files.open import open_capture
    from analysis.files.setup_read import parse_setup

    capture = open_capture(RUN_UP)
    setup = parse_setup(capture.setup_toml or "", "run_up")[0]
    capture.close()
    assert (setup.limit[1].delay_s, setup.limit[1].above) == (1.0, 125.0)
    longer = setup.limit[1].model_copy(update={"delay_s": 2.0})
    trial = tmp_path / "trial.toml"
    limits = (setup.limit[0], longer, *setup.limit[2:])
    trial.write_text(setup_to_toml(setup.model_copy(update={"limit": limits})), encoding="utf-8")

    def trips(*words: str) -> list[float]:
        found = document(capsys, RUN_UP, *words)
        return [e["time_s"] for e in found["events"] if (e["event"], e["limit"]) == ("set", 1)]

    assert trips() == [pytest.approx(39.9, abs=0.3)]
    # The coast-down would trip anew, had it been reset before.
    assert trips("--reset", "80") == pytest.approx([39.9, 115.5], abs=0.3)
    assert trips("--setup", str(trial)) == []


def test_text_is_for_people(make, capsys) -> None:
    path = make(setup_with(ALARM, TRIP))
    assert main(["replay", path]) == 0
    text = capsys.readouterr().out
    assert "p-p trip held by latch" in text
    assert "p-p fell below 120 µm; the latch holds it, no reset since" in text
    assert "circuit fault gone" in text
    assert "At the end" in text
    assert "no protection system" in text
    assert main(["replay", path, "--unit", "mil"]) == 0
    assert "4.72 mil" in capsys.readouterr().out
    assert main(["replay", path, "--reset", "11"]) == 0
    assert "At the end" not in capsys.readouterr().out


def test_without_limits_faults_are_told_all_the_same(make, capsys) -> None:
    path = make(setup_with())
    found = document(capsys, path)
    assert [event["event"] for event in found["events"]] == ["fault", "fault_cleared"]
    assert any("no [[limit]]" in notice for notice in found["notices"])
    assert main(["replay", path]) == 0
    assert "no [[limit]]" in capsys.readouterr().err


def test_without_a_phase_reference(make, capsys) -> None:
    first = {**ALARM, "measure": "1x"}
    path = make(setup_with(ALARM, first, reference=False), reference=False)
    blocks = document(capsys, path)
    assert [e["limit"] for e in blocks["events"] if e["event"] == "set"] == [0]
    assert {state for *_, state in blocks["limits"][1]["states"]} == {"void"}
    given = document(capsys, path, "--speed", "3000")
    assert [e["limit"] for e in given["events"] if e["event"] == "set"] == [0, 1]


def test_a_capture_too_short_for_a_tick(make, capsys) -> None:
    path = make(setup_with(ALARM), seconds=0.06)
    found = document(capsys, path)
    assert found["events"] == []
    assert found["span_s"] is None
    assert any("too short" in notice for notice in found["notices"])
    assert main(["replay", path]) == 0
    assert "too short" in capsys.readouterr().out


def test_times_are_plain_numbers(make, capsys) -> None:
    found = document(capsys, make(setup_with(ALARM, TRIP), start_s=17.3))
    times = [event["time_s"] for event in found["events"]]
    assert times == np.round(times, 6).tolist()
    assert found["span_s"] == [17.4, 29.3]


@pytest.mark.parametrize("reset", ["-1", "12.2", "1e9"])
def test_a_reset_outside_the_capture_is_refused(make, capsys, reset: str) -> None:
    told = refused(capsys, 1, make(setup_with(TRIP)), "--reset", reset)
    assert "outside the capture, which runs from 0 to 12 s" in told


@pytest.mark.parametrize(
    "words", [("--reset", "soon"), ("--reset", "nan"), ("--reset",), ("--speed", "0"), ("--level",)]
)
def test_wrong_usage(make, capsys, words: tuple[str, ...]) -> None:
    refused(capsys, 2, make(setup_with(TRIP)), *words)


def test_what_cannot_be_replayed_says_so_in_one_line(make, capsys, tmp_path) -> None:
    assert "no setup" in refused(capsys, 1, make(None))
    bad = tmp_path / "bad.toml"
    bad.write_text('version = 1\n[[limit]]\nprobes = ["Z"]\n', encoding="utf-8")
    assert "bad.toml" in refused(capsys, 1, make(setup_with(TRIP)), "--setup", str(bad))
    refused(capsys, 1, str(tmp_path / "none.h5"))
