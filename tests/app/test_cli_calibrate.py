"""`runtrue calibrate`: contract 6 key by key, options, and one line for what is bad."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

import pytest

from app.cli.main import main
from tests.analysis.test_calibration_table import BAD

TABLES = Path(__file__).parents[2] / "sample_data" / "tables"
AS_FOUND, AS_LEFT = (str(TABLES / f"de_x_as_{when}.csv") for when in ("found", "left"))

# Contract 6, every key of it.
KEYS = {
    "average_scale_factor_mv_per_um",
    "incremental",
    "straight_line_deviation_um",
    "linear_range_um",
    "verdict",
    "reasons",
}


def calibrated(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, Any]:
    assert main(["calibrate", *words, "--json"]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    document: dict[str, Any] = json.loads(out)
    assert set(document) >= KEYS
    return document


@pytest.fixture
def mil_table(tmp_path: Path) -> str:
    """200 mV/mil from 10 to 90 mil, offset of 0.3 V."""
    path = tmp_path / "mil.csv"
    rows = "".join(f"{mil};{-0.3 - 0.2 * mil:.2f}\n".replace(".", ",") for mil in range(10, 91, 10))
    path.write_text("gap_mil;volts\n" + rows, encoding="utf-8")
    return str(path)


def test_a_good_table(capsys: pytest.CaptureFixture[str]) -> None:
    """Figures by hand: the factor 1.88 V / 250 µm at the far end, 7.52 mV/µm, 4.5 % low."""
    document = calibrated(capsys, AS_LEFT)
    assert document["verdict"] == "pass"
    assert document["reasons"] == []
    assert document["linear_range_um"] == [250.0, 2250.0]
    assert [i["gap_um"] for i in document["incremental"]] == [*range(500, 2251, 250), 2300]
    last = document["incremental"][7]
    assert last["scale_factor_mv_per_um"] == pytest.approx(7.52)
    assert last["error_percent"] == pytest.approx(100.0 * (7.52 / (200.0 / 25.4) - 1.0))
    # V at 254 is -2.02 - 0.03072, at 2286 it is -17.55 - 0.252.
    assert document["average_scale_factor_mv_per_um"] == pytest.approx(
        (17.802 - 2.05072) / 2032.0 * 1000.0
    )
    # V + k g at 250 µm and at 2250 µm are furthest apart.
    apart = (2250.0 - 250.0) * 0.2 / 25.4 - (17.55 - 2.02)
    assert document["straight_line_deviation_um"] == pytest.approx(apart / 2.0 / 0.2 * 25.4)


def test_a_bad_table_is_a_result(capsys: pytest.CaptureFixture[str]) -> None:
    document = calibrated(capsys, AS_FOUND)
    assert document["verdict"] == "fail"
    assert len(document["reasons"]) == 4
    assert "from 250 µm to 1750 µm" in document["reasons"][0]
    assert document["linear_range_um"] == [1750.0, 2000.0]


def test_mil(capsys: pytest.CaptureFixture[str], mil_table: str) -> None:
    document = calibrated(capsys, mil_table)
    assert document["verdict"] == "pass"
    assert document["average_scale_factor_mv_per_um"] == pytest.approx(200.0 / 25.4)
    assert document["linear_range_um"] == pytest.approx([254.0, 2286.0])
    assert document["straight_line_deviation_um"] == pytest.approx(0.0, abs=1e-9)
    assert main(["calibrate", mil_table]) == 0
    text = capsys.readouterr().out
    assert "Average factor   200.0 mV/mil (+0.0 %)" in text
    assert "Usable range     10.0 mil to 90.0 mil (80.0 mil)" in text
    assert main(["calibrate", mil_table, "--unit", "um"]) == 0
    assert "7.874 mV/µm" in capsys.readouterr().out


def test_reasons_in_json_are_um_whatever_the_unit(
    capsys: pytest.CaptureFixture[str], mil_table: str
) -> None:
    document = calibrated(capsys, mil_table, "--unit", "mil", "--least", "2100")
    assert document["reasons"] == [
        "The usable range is 2032 µm, from 254 µm to 2286 µm (2100 µm wanted)."
    ]


def test_text(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["calibrate", AS_LEFT, "--as-found", AS_FOUND]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    assert "Verdict  PASS" in out
    assert "As found fail, as left pass, average factor -5.9 %" in out
    assert "one target material" in out
    assert "no protection system" in out


@pytest.mark.parametrize(
    ("options", "verdict"),
    [
        ((), "fail"),
        (("--operating",), "pass"),  # 58.4 µm and 8.2 % at most
        (("--operating", "--deviation", "58"), "fail"),
        (("--scale-factor", "8.35", "--deviation", "40", "--tolerance", "12"), "pass"),
        (("--scale-factor-mil", "212", "--deviation", "40", "--tolerance", "12"), "pass"),
        (("--range", "250,2000", "--scale-factor", "8.4", "--least", "1700"), "pass"),
    ],
)
def test_tolerances_are_options(
    capsys: pytest.CaptureFixture[str], options: tuple[str, ...], verdict: str
) -> None:
    document = calibrated(capsys, AS_FOUND, *options)
    assert document["verdict"] == verdict, document["reasons"]
    own = "figures of one's own" in document["tolerances"]["edition"]
    assert own is (len(options) > 1)


def test_the_line_for_a_setup(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["calibrate", AS_FOUND, "--for-setup"]) == 0
    out, err = capsys.readouterr()
    assert tomllib.loads(out)["calibration"][0] == [250, -1.8]
    assert err.startswith("runtrue: note: this table fails its tolerances")


@pytest.mark.parametrize(
    "options",
    [
        ("--tolerance", "0"),
        ("--scale-factor", "nan"),
        ("--scale-factor", "8", "--scale-factor-mil", "200"),
        ("--range", "2286,254"),
        ("--range", "254"),
        ("--json", "--for-setup"),
        ("--unit", "mm"),
    ],
)
def test_wrong_usage(capsys: pytest.CaptureFixture[str], options: tuple[str, ...]) -> None:
    assert main(["calibrate", AS_LEFT, *options]) == 2
    assert "usage: runtrue calibrate" in capsys.readouterr().err


@pytest.mark.parametrize("name", BAD)
def test_bad_tables_end_in_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    path = tmp_path / "de_x.csv"
    path.write_bytes(BAD[name][0].encode())
    assert main(["calibrate", str(path), "--json"]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("runtrue: de_x.csv: ")
    assert err.count("\n") == 1


@pytest.mark.parametrize("raw", [b"", b"\x89HDF\r\n\x1a\n\0\0\0", b"gap_um,volts\n" * 800_000])
def test_bad_files_end_in_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], raw: bytes
) -> None:
    path = tmp_path / "de_x.csv"
    path.write_bytes(raw)
    for words in ([str(path)], [AS_LEFT, "--as-found", str(path)], [str(tmp_path / "none.csv")]):
        assert main(["calibrate", *words]) == 1
        out, err = capsys.readouterr()
        assert out == ""
        assert err.count("\n") == 1


def test_a_capture_is_no_table(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["calibrate", str(TABLES.parent / "few_turns.csv")]) == 1
    assert "no column volts" in capsys.readouterr().err
    assert main(["calibrate", str(TABLES.parent / "calibrator.h5")]) == 1
    assert "not UTF-8 text" in capsys.readouterr().err


def test_help(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["calibrate", "--help"]) == 0
    out = capsys.readouterr().out
    assert "runtrue calibrate TABLE.csv" in out
    assert "from memory" in " ".join(out.split())
    assert main(["--help"]) == 0
    assert "calibrate TABLE.csv" in capsys.readouterr().out
