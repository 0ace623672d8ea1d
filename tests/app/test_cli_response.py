"""`runtrue response` on captures and on tables: what it prints and what it refuses."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from analysis.files.hdf5_write import write_hdf5
from analysis.files.setup_write import setup_to_toml
from app.cli.main import main
from tests.analysis.runs import OPERATING, SLOW, jeffcott, jeffcott_truth, run_capture, turn_times
from tests.analysis.synthetic import setup_of

NATURAL = 3100.0
RUN_UP = str(Path(__file__).parents[2] / "sample_data" / "run_up.h5")
SETUP = setup_of(machine={"rotation": "ccw", "operating_rpm": list(OPERATING)})

# Contract 6, every key of it.
CRITICAL_KEYS = {
    "speed_rpm",
    "amplitude_um_pp",
    "half_power_rpm",
    "amplification_factor",
    "separation_margin_percent",
    "required_margin_percent",
}


def responded(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, Any]:
    assert main(["response", *words, "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert isinstance(document, dict)
    return document


def refused(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(["response", *words]) == 1
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.startswith("runtrue: ")
    assert told.err.count("\n") == 1
    return told.err


@pytest.fixture(scope="module")
def run_up(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("response")

    def vector(rpm: np.ndarray) -> np.ndarray:
        return SLOW + 10.0 * jeffcott(rpm, NATURAL, 0.04)

    capture = run_capture({"X": vector, "Y": lambda rpm: -1j * vector(rpm)}, 400.0, 5300.0, 80.0)
    path = folder / "up.h5"
    write_hdf5(path, capture)
    (folder / "up.toml").write_text(setup_to_toml(SETUP), encoding="utf-8")
    return path


def table(path: Path, *, separator: str = ",", times: bool = True, decimals: str = ".") -> Path:
    """Uneven in speed, two probes."""
    seconds, rpm = turn_times(400.0, 5300.0, 80.0)
    random = np.random.default_rng(2)
    rows = np.sort(random.choice(len(rpm), 700, replace=False))
    vectors = SLOW + 10.0 * jeffcott(rpm[rows], NATURAL, 0.11)
    vectors += 0.1 * (random.standard_normal(700) + 1j * random.standard_normal(700))
    head = [*(["time_s"] if times else []), "speed_rpm", "DE-X.gap_um"]
    lines = [separator.join([*head, "DE-X.1x_um_pp", "DE-X.1x_deg"])]
    for t, n, v in zip(seconds[rows], rpm[rows], vectors, strict=True):
        fields = [f"{t:.4f}"] * times
        fields += [f"{n:.3f}", "", f"{abs(v):.4f}", f"{-np.degrees(np.angle(v)) % 360:.3f}"]
        lines.append(separator.join(fields).replace(".", decimals))
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


@pytest.mark.parametrize("words", [[], ["--slow-roll", "400"]])
def test_json_is_that_of_the_contract(
    run_up: Path, words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    document = responded(capsys, str(run_up), *words)
    assert list(document["probes"]) == ["X", "Y"]
    speed, height, factor = jeffcott_truth(NATURAL, 0.04)
    for probe in document["probes"].values():
        slow_roll = probe["slow_roll"]
        assert {"speed_rpm", "amplitude_um_pp", "phase_lag_deg"} <= set(slow_roll)
        assert slow_roll["amplitude_um_pp"] == pytest.approx(4.0, abs=0.4)
        assert slow_roll["speed_rpm"] == pytest.approx(400.0, rel=0.1)
        (critical,) = probe["critical_speeds"]
        assert set(critical) >= CRITICAL_KEYS
        assert critical["speed_rpm"] == pytest.approx(speed, rel=0.006)
        assert critical["amplitude_um_pp"] == pytest.approx(10.0 * height, rel=0.03)
        assert critical["amplification_factor"] == pytest.approx(factor, rel=0.06)
        low, high = critical["half_power_rpm"]
        assert critical["speed_rpm"] / (high - low) == pytest.approx(
            critical["amplification_factor"]
        )
        margin = 100.0 * (OPERATING[0] - speed) / OPERATING[0]
        assert critical["separation_margin_percent"] == pytest.approx(margin, abs=0.7)
        required = 17.0 * (1.0 - 1.0 / (factor - 1.5))
        assert critical["required_margin_percent"] == pytest.approx(required, abs=0.3)


def test_text_tells_doubts_and_caution(run_up: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["response", str(run_up), "--unit", "mil"]) == 0
    text = capsys.readouterr().out
    assert "p-p, mil" in text
    assert "taken off" in text
    assert "Critical, r/min" in text
    assert "RP 684" in text
    assert "no protection system" in text


@pytest.mark.parametrize(("separator", "decimals"), [(",", "."), (";", ","), ("\t", ".")])
def test_a_table_alone(
    tmp_path: Path, separator: str, decimals: str, capsys: pytest.CaptureFixture[str]
) -> None:
    path = table(tmp_path / "t.csv", separator=separator, decimals=decimals)
    document = responded(capsys, str(path), "--operating", "4700,5300")
    (critical,) = document["probes"]["DE-X"]["critical_speeds"]
    speed, height, factor = jeffcott_truth(NATURAL, 0.11)
    assert critical["speed_rpm"] == pytest.approx(speed, rel=0.006)
    assert critical["amplitude_um_pp"] == pytest.approx(10.0 * height, rel=0.03)
    assert critical["amplification_factor"] == pytest.approx(factor, rel=0.06)
    margin = 100.0 * (OPERATING[0] - speed) / OPERATING[0]
    assert critical["separation_margin_percent"] == pytest.approx(margin, abs=0.7)
    assert critical["direction"] == "up"
    assert critical["smoothed"]["turns"] == 5


def test_a_table_without_times_or_range(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    document = responded(capsys, str(table(tmp_path / "t.csv", times=False)))
    (critical,) = document["probes"]["DE-X"]["critical_speeds"]
    assert critical["sweep"] is None
    assert critical["separation_margin_percent"] is None
    assert critical["required_margin_percent"] is None
    assert any("time_s" in notice for notice in document["notices"])
    assert any("operating" in notice for notice in document["notices"])


def test_setup_gives_a_table_its_range(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    setup = tmp_path / "s.toml"
    setup.write_text("version = 1\n[machine]\noperating_rpm = [4700, 5300]\n")
    document = responded(capsys, str(table(tmp_path / "t.csv")), "--setup", str(setup))
    (critical,) = document["probes"]["DE-X"]["critical_speeds"]
    assert critical["separation_margin_percent"] > 30.0


def test_table_of_revolutions_gives_what_the_capture_gives(
    run_up: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    whole = responded(capsys, str(run_up))
    path = tmp_path / "revolutions.csv"
    assert main(["revolutions", str(run_up), "--out", str(path)]) == 0
    capsys.readouterr()
    again = responded(capsys, str(path), "--operating", "4700,5300")
    for name, probe in whole["probes"].items():
        (one,), (other,) = (each["critical_speeds"] for each in (probe, again["probes"][name]))
        for key in ("speed_rpm", "amplitude_um_pp", "amplification_factor"):
            assert other[key] == pytest.approx(one[key], rel=0.003)


def test_a_run_that_ends_below_its_critical(
    run_up: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    document = responded(capsys, str(run_up), "--to", "30")
    for probe in document["probes"].values():
        assert probe["critical_speeds"] == []
        assert [notice["flag"] for notice in probe["notices"]] == ["rises-at-the-end"]
    assert main(["response", str(run_up), "--to", "30"]) == 0
    assert "still rises towards the highest speed" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("speed_rpm,DE-X.1x_um_pp\n1000,2\n", "no column 'DE-X.1x_deg'"),
        ("speed_rpm,amplitude\n1000,2\n", "NAME.1x_um_pp and NAME.1x_deg"),
        ("rpm,DE-X.1x_um_pp,DE-X.1x_deg\n1000,2,3\n", "no column 'speed_rpm'"),
        ("speed_rpm,A.1x_um_pp,A.1x_deg\n1000,x,3\n1,2,3\n", "line 2: 'x' in column A.1x_um_pp"),
        ("speed_rpm,A.1x_um_pp,A.1x_deg\n1000,2\n1,2,3\n", "line 2 has 2 fields"),
        ("speed_rpm,A.1x_um_pp,A.1x_deg\n1000,-2,3\n1,2,3\n", "amplitude below 0"),
        ("speed_rpm,A.1x_um_pp,A.1x_deg\n1000,2,3\n", "only 1 rows"),
        ("speed_rpm,A.1x_um_pp,A.1x_um_pp,A.1x_deg\n1,2,3,4\n", "stands twice"),
        ("n,a,b\n1,2,3\n4,5,6\n", "NAME.1x_um_pp"),
    ],
)
def test_bad_tables_are_refused_in_one_line(
    tmp_path: Path, text: str, part: str, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "bad.csv"
    path.write_text(text)
    told = refused(capsys, str(path))
    assert "bad.csv" in told
    assert part in told


def test_bad_input_in_one_line(
    run_up: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert "no revolution lies within 10 %" in refused(capsys, str(run_up), "--slow-roll", "100")
    assert "no such file" in refused(capsys, str(tmp_path / "none.csv"))
    bare = tmp_path / "bare.toml"
    bare.write_text(
        'version = 1\n[[probe]]\nname = "X"\nscale_factor_mv_per_um = 7.874\nangle_deg = 45\n'
    )
    assert "phase" in refused(capsys, str(run_up), "--setup", str(bare))


@pytest.mark.parametrize(
    "words",
    [
        [],
        [RUN_UP, "--slow-roll", "0"],
        [RUN_UP, "--slow-roll", "x"],
        [RUN_UP, "--slow-roll", "600", "--no-slow-roll"],
        [RUN_UP, "--operating", "5300,4700"],
        [RUN_UP, "--operating", "5300"],
        [RUN_UP, "--smooth", "0"],
    ],
)
def test_wrong_usage(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["response", *words]) == 2
    assert "usage: runtrue response" in capsys.readouterr().err


def test_the_sample_splits(capsys: pytest.CaptureFixture[str]) -> None:
    """Natural speeds 3080 and 3190 at 20° in its recipe, a further mode above the range."""
    document = responded(capsys, RUN_UP, "--slow-roll", "600")
    for plane in document["planes"].values():
        assert plane["split"] is True
        assert plane["axis_deg"] % 90.0 == pytest.approx(20.0, abs=4.0)
        speeds = [d["critical_speeds"][0]["speed_rpm"] for d in plane["directions"]]
        assert sorted(speeds) == pytest.approx([3094.0, 3207.0], rel=0.005)
