"""The commands on real files: what they print, write and refuse."""

from __future__ import annotations

import json
import os
import shutil
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from analysis.files.open import open_capture
from analysis.files.setup_read import read_setup
from analysis.simulate.recipe import read_recipe
from analysis.simulate.truth import Truth
from app.cli.main import main
from tests.analysis.broken_files import BROKEN_CAPTURES, BROKEN_SETUPS, BrokenFile, good_hdf5

SAMPLES = Path(__file__).parents[2] / "sample_data"
RUN_UP = str(SAMPLES / "run_up.h5")
FEW = str(SAMPLES / "few_turns.csv")

# Contract 6, every key of it.
PROBE_KEYS = {
    "gap_v",
    "gap_um",
    "peak_to_peak_um",
    "peak_to_peak_max_um",
    "vectors",
    "linear_range",
    "outputs_ma",
    "circuit_fault",
}


def measured(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, Any]:
    assert main(["measure", *words, "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert isinstance(document, dict)
    return document


def one_line(capsys: pytest.CaptureFixture[str]) -> str:
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.startswith("runtrue: ")
    assert told.err.count("\n") == 1
    assert told.err.endswith("\n")
    assert "Traceback" not in told.err
    return told.err


def test_json_is_that_of_the_contract(capsys: pytest.CaptureFixture[str]) -> None:
    document = measured(capsys, RUN_UP, "--from", "2", "--to", "10")
    assert document["capture"] == "run_up.h5"
    assert document["span_s"] == [2.0, 10.0]
    assert {"mean", "min", "max", "revolutions"} <= set(document["speed_rpm"])
    assert list(document["probes"]) == ["DE-X", "DE-Y", "NDE-X", "NDE-Y", "THR-A", "THR-B"]
    for probe in document["probes"].values():
        assert set(probe) >= PROBE_KEYS
        assert set(probe["vectors"]) == {"1", "2"}
        assert set(probe["vectors"]["1"]) >= {"amplitude_um_pp", "phase_lag_deg"}
        assert set(probe["linear_range"]) == {"min_um", "max_um", "margin_um", "outside_fraction"}
        assert {"position", "peak_to_peak"} <= set(probe["outputs_ma"])
        assert probe["circuit_fault"] is False
    assert list(document["planes"]) == ["Drive end", "Non-drive end"]
    for plane in document["planes"].values():
        assert set(plane) == {"s_max_um", "orbit", "centreline"}
        assert set(plane["orbit"]["1"]) == {
            "major_um_pp",
            "minor_um_pp",
            "inclination_deg",
            "precession",
        }
        assert set(plane["centreline"]) == {"x_um", "y_um", "eccentricity_ratio", "attitude_deg"}
    truth = Truth(read_recipe(SAMPLES / "recipes" / "run_up.toml"))
    vector = truth.vector("DE-Y", 1, 5.0)
    seen = document["probes"]["DE-Y"]["vectors"]["1"]
    assert seen["amplitude_um_pp"] == pytest.approx(abs(vector), rel=0.01)
    assert seen["phase_lag_deg"] == pytest.approx(-np.degrees(np.angle(vector)) % 360.0, abs=0.5)


def test_orders_and_unit(capsys: pytest.CaptureFixture[str]) -> None:
    document = measured(capsys, RUN_UP, "--from", "2", "--to", "4", "--orders", "3,1")
    assert list(document["probes"]["DE-X"]["vectors"]) == ["1", "3"]
    assert main(["measure", RUN_UP, "--from", "2", "--to", "4", "--unit", "mil"]) == 0
    assert "p-p, mil" in capsys.readouterr().out


def test_a_setup_beside_a_table_is_found(capsys: pytest.CaptureFixture[str]) -> None:
    document = measured(capsys, FEW)
    assert document["speed_rpm"]["mean"] == pytest.approx(4980.0, abs=1.0)
    assert document["probes"]["DE-X"]["peak_to_peak_um"] > 20.0


def test_without_a_setup_the_volts_are_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "bare.h5"
    good_hdf5(path)
    assert main(["measure", str(path), "--json"]) == 0
    told = capsys.readouterr()
    assert "--setup" in told.err
    document = json.loads(told.out)
    assert set(document["probes"]) == {"DE_X", "DE_Y"}
    assert document["probes"]["DE_X"]["gap_v"] == pytest.approx(-8.0 + 0.001 * 24.5)
    assert set(document["probes"]["DE_X"]) == PROBE_KEYS
    assert document["probes"]["DE_X"]["gap_um"] is None
    assert main(["measure", str(path)]) == 0
    assert "-7.976" in capsys.readouterr().out


def test_a_setup_given_goes_before_the_capture_s_own(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    setup = tmp_path / "other.toml"
    setup.write_text(
        'version = 1\n[[probe]]\nname = "Only"\nchannel = "DE_X"\nscale_factor_mv_per_um = 15.748\n'
    )
    document = measured(capsys, RUN_UP, "--from", "2", "--to", "3", "--setup", str(setup))
    assert list(document["probes"]) == ["Only"]
    assert document["speed_rpm"]["mean"] is None
    assert document["probes"]["Only"]["vectors"]["1"]["amplitude_um_pp"] is None
    given = measured(
        capsys, RUN_UP, "--from", "2", "--to", "3", "--setup", str(setup), "--speed", "600"
    )
    # The speed given is a start: the strongest line near it is what is taken.
    assert given["speed_rpm"]["mean"] == pytest.approx(600.0, rel=0.002)
    assert given["probes"]["Only"]["vectors"]["1"]["amplitude_um_pp"] > 1.0


@pytest.mark.parametrize("broken", BROKEN_CAPTURES, ids=lambda broken: broken.id)
def test_a_broken_capture_takes_one_line(
    broken: BrokenFile, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = broken.make(tmp_path)
    assert main(["measure", str(path)]) == 1
    assert broken.name in one_line(capsys)
    assert main(["convert", str(path), str(tmp_path / "out.h5")]) == 1
    assert broken.name in one_line(capsys)
    assert not (tmp_path / "out.h5").exists()


@pytest.mark.parametrize("broken", BROKEN_SETUPS, ids=lambda broken: broken.id)
def test_a_broken_setup_takes_one_line(
    broken: BrokenFile, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = broken.make(tmp_path)
    assert main(["measure", FEW, "--setup", str(path)]) == 1
    assert broken.name in one_line(capsys)


@pytest.mark.parametrize("span", [["--from", "500"], ["--to", "-1"], ["--from", "160"]])
def test_a_span_outside_the_capture(span: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["measure", RUN_UP, *span]) == 1
    line = one_line(capsys)
    assert "run_up.h5" in line
    assert "0 to 160 s" in line


def test_a_span_that_reaches_beyond_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["measure", RUN_UP, "--from", "158", "--to", "400", "--json"]) == 0
    told = capsys.readouterr()
    assert json.loads(told.out)["span_s"] == [158.0, 160.0]
    assert "reaches beyond" in told.err


def test_convert_there_and_back(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    there, back = tmp_path / "few.h5", tmp_path / "few.csv"
    assert main(["convert", FEW, str(there)]) == 0
    assert main(["convert", str(there), str(back)]) == 0
    assert capsys.readouterr().out == ""
    first, last = open_capture(FEW), open_capture(back)
    for name, channel in first.channels.items():
        other = last.channels[name]
        np.testing.assert_array_equal(channel.volts(0, len(channel)), other.volts(0, len(other)))
    first.close()
    last.close()


def test_convert_reads_another_layout(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    table = tmp_path / "logger.txt"
    table.write_text("Logger\n12:00;-9800,5;-9700\n12:00;-9801,5;-9701\n")
    out = tmp_path / "logger.h5"
    words = ["--separator", "semicolon", "--decimal", "comma", "--units", "mV", "--no-header"]
    words += ["--skip-rows", "1", "--columns", "2=DE_X,3=DE_Y", "--sample-rate", "1000"]
    assert main(["convert", str(table), str(out), *words]) == 0
    capsys.readouterr()
    capture = open_capture(out)
    np.testing.assert_allclose(capture.channels["DE_X"].volts(0, 2), [-9.8005, -9.8015])
    assert capture.channels["DE_Y"].sample_rate_hz == 1000.0
    capture.close()


@pytest.mark.parametrize("name", ["out.xyz", "absent/out.h5", "folder", "in.h5"])
def test_convert_refuses_to_write_there(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    source = tmp_path / "in.h5"
    good_hdf5(source)
    before = source.read_bytes()
    (tmp_path / "folder").mkdir()
    assert main(["convert", str(source), str(tmp_path / name)]) == 1
    assert Path(name).name in one_line(capsys)
    assert source.read_bytes() == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["folder", "in.h5"]


def test_a_link_to_the_input_is_the_input(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    source = tmp_path / "in.h5"
    good_hdf5(source)
    os.link(source, tmp_path / "same.h5")
    assert main(["convert", str(source), str(tmp_path / "same.h5")]) == 1
    assert "same.h5" in one_line(capsys)


def test_simulate_writes_the_same_bytes_again(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    recipe = SAMPLES / "recipes" / "calibrator.toml"
    files = [tmp_path / "one.h5", tmp_path / "two.h5"]
    for path in files:
        assert main(["simulate", str(recipe), "--out", str(path)]) == 0
    assert capsys.readouterr().out == ""
    assert files[0].read_bytes() == files[1].read_bytes()
    # A capture that is there is replaced.
    assert main(["simulate", str(recipe), "--out", str(files[0])]) == 0


def test_simulate_writes_a_setup_beside(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    recipe = tmp_path / "recipe.toml"
    shutil.copy(SAMPLES / "recipes" / "few_turns.toml", recipe)
    out = tmp_path / "few.csv"
    assert main(["simulate", str(recipe), "--out", str(out)]) == 0
    assert "few.toml" in capsys.readouterr().err
    assert read_setup(tmp_path / "few.toml") == read_setup(SAMPLES / "few_turns.toml")
    assert "setup" not in out.read_text(encoding="utf-8")
    # Again is fine; over another setup, or over the recipe, it is not.
    assert main(["simulate", str(recipe), "--out", str(out)]) == 0
    capsys.readouterr()
    (tmp_path / "few.toml").write_text("version = 1\n")
    assert main(["simulate", str(recipe), "--out", str(out)]) == 1
    assert "few.toml" in one_line(capsys)
    assert (tmp_path / "few.toml").read_text() == "version = 1\n"
    before = recipe.read_bytes()
    assert main(["simulate", str(recipe), "--out", str(tmp_path / "recipe.csv")]) == 1
    assert "recipe" in one_line(capsys)
    assert recipe.read_bytes() == before
    assert not (tmp_path / "recipe.csv").exists()


@pytest.mark.parametrize("out", ["x.txt", "absent/x.h5", ".", "run_up.toml"])
def test_simulate_refuses_to_write_there(
    out: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    recipe = tmp_path / "run_up.toml"
    shutil.copy(SAMPLES / "recipes" / "run_up.toml", recipe)
    assert main(["simulate", str(recipe), "--out", str(tmp_path / out)]) == 1
    one_line(capsys)
    assert [p.name for p in tmp_path.iterdir()] == ["run_up.toml"]


def test_simulate_tells_what_is_wrong_with_a_recipe(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    recipe = tmp_path / "bad.toml"
    recipe.write_text("version = 1\nduration_s = -1\n")
    assert main(["simulate", str(recipe), "--out", str(tmp_path / "x.h5")]) == 1
    line = one_line(capsys)
    assert line.startswith("runtrue: bad.toml: ")
    assert "duration_s" in line
    assert "channel" in line
