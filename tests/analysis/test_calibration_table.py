"""Calibration tables from files and pasted text: what is taken, and how the rest is refused."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.files.calibration_table import parse_calibration_table, read_calibration_table
from analysis.model.errors import InputError
from analysis.model.units import LengthUnit

ROWS = ((250.0, -1.97), (500.0, -3.94), (750.0, -5.91))
MIL_ROWS = ((254.0, -2.0), (508.0, -4.0), (762.0, -6.0))

GOOD = {
    "plain": "gap_um,volts\n250,-1.97\n500,-3.94\n750,-5.91\n",
    "windows line ends and a mark": "\ufeffgap_um,volts\r\n250,-1.97\r\n500,-3.94\r\n750,-5.91",
    "old line ends": "gap_um;volts\r250;-1.97\r500;-3.94\r750;-5.91\r",
    "decimal comma": "gap_um;volts\n250;-1,97\n500;-3,94\n750;-5,91\n",
    "tabs and decimal comma": "gap_um\tvolts\n250,0\t-1,97\n500,0\t-3,94\n750,0\t-5,91\n",
    "quoted": '"gap_um","volts"\n"250","-1.97"\n"500","-3.94"\n"750","-5.91"\n',
    "other order of columns and rows": "volts,gap_um\n-5.91,750\n-1.97,250\n-3.94,500\n",
    "remarks, blank lines, a true minus": (
        "# made up\n\ngap_um,volts\n250,−1.97\n\n# half way\n500,-3.94\n750,-5.91\n,\n"
    ),
    "a spreadsheet's headings": "Gap (µm);Volts\n250;-1.97\n500;-3.94\n750;-5.91\n",
    "empty cells behind": "gap_um,volts,,\n250,-1.97,,\n500,-3.94,,\n750,-5.91\n",
    "exponents": "gap_um,volts\n2.5e2,-197e-2\n5E2,-3.94\n+750.,-5.91\n",
}


@pytest.mark.parametrize("text", GOOD.values(), ids=GOOD.keys())
def test_good_tables(text: str) -> None:
    table = parse_calibration_table(text)
    assert table.rows == ROWS
    assert table.unit is LengthUnit.UM


@pytest.mark.parametrize(
    "text",
    [
        "gap_mil,volts\n10,-2\n20,-4\n30,-6\n",
        "Gap, mil\tVolts\n10\t-2\n20\t-4\n30\t-6\n",
        "gap_mil;volts\n10,0;-2,0\n20,0;-4,0\n30,0;-6,0\n",
    ],
)
def test_mil_becomes_um(text: str) -> None:
    table = parse_calibration_table(text)
    assert [gap for gap, _ in table.rows] == pytest.approx([gap for gap, _ in MIL_ROWS])
    assert [volts for _, volts in table.rows] == [-2.0, -4.0, -6.0]
    assert table.unit is LengthUnit.MIL


def test_other_columns_are_left_out_with_a_word() -> None:
    table = parse_calibration_table(
        "nr,gap_um,volts,remark\n1,250,-1.97,contact\n2,500,-3.94,\n3,750,-5.91,ok\n"
    )
    assert table.rows == ROWS
    assert table.notices == ("not read: column nr, remark",)


class TestPasted:
    @pytest.mark.parametrize(
        "text",
        ["250\t-1,97\n500\t-3,94\n750\t-5,91\n", "250 -1.97\n 500  -3.94\n750 -5.91"],
    )
    def test_without_names_where_the_unit_is_known(self, text: str) -> None:
        assert parse_calibration_table(text, unit=LengthUnit.UM).rows == ROWS
        with pytest.raises(InputError, match=r"line 1 has numbers where the names"):
            parse_calibration_table(text)

    def test_the_given_unit_counts(self) -> None:
        table = parse_calibration_table("10\t-2\n20\t-4\n30\t-6\n", unit=LengthUnit.MIL)
        assert [gap for gap, _ in table.rows] == pytest.approx([254.0, 508.0, 762.0])

    def test_a_line_of_names_goes_before_it(self) -> None:
        table = parse_calibration_table(GOOD["plain"], unit=LengthUnit.MIL)
        assert table.unit is LengthUnit.UM

    def test_decimal_commas_between_commas(self) -> None:
        with pytest.raises(InputError, match=r"4 fields.*separator must be ';' or a tab"):
            parse_calibration_table("250,0,-1,97\n500,0,-3,94\n", unit=LengthUnit.UM)


HEAD = "gap_um,volts\n"
TAIL = "500,-3.94\n750,-5.91\n1000,-7.87\n"
BAD = {
    "wrong columns": ("distance,signal\n1,2\n2,3\n3,4\n", "no column gap_um or gap_mil and no"),
    "no volts": ("gap_um,reading\n250,-2\n500,-4\n750,-6\n", "no column volts"),
    "no gap": ("gap,volts\n250,-2\n500,-4\n750,-6\n", "no column gap_um or gap_mil"),
    "gaps in mm": ("gap_mm,volts\n0.25,-2\n0.5,-4\n0.75,-6\n", r"wanted in µm \(gap_um\) or mil"),
    "a column of mV": ("gap_um,mV\n250,-1970\n500,-3940\n750,-5910\n", "divide them by 1000"),
    "a misspelt column": ("gap_um,vols\n250,-2\n500,-4\n750,-6\n", "is it 'vols'"),
    "no names": ("250,-1.97\n500,-3.94\n750,-5.91\n", "line 1 has numbers where the names"),
    "both gaps": ("gap_um,gap_mil,volts\n254,10,-2\n508,20,-4\n762,30,-6\n", "both gap_um and"),
    "a column twice": ("gap_um,volts,volts\n250,-2,-2\n", "volts stands twice"),
    "two rows": (HEAD + "250,-1.97\n500,-3.94\n", "2 rows cannot show"),
    "names alone": (HEAD, "0 rows cannot show"),
    "a gap twice": (HEAD + TAIL + "500,-3.95\n", r"gap 500 µm stands twice \(lines 2 and 5\)"),
    "a gap twice in mil": ("gap_mil,volts\n10,-2\n20,-4\n10,-2.1\n", "gap 10 mil stands twice"),
    "volts that rise": (HEAD + TAIL + "1250,-7.5\n", r"volts rise from -7.87 V at 1000 µm.*line 5"),
    "volts that stand still": (HEAD + TAIL + "1250,-7.87\n", "volts stand still.*leave out"),
    "sign lost": (HEAD + TAIL.replace("-", ""), "line 2: 3.94 V is above zero.*the sign is lost"),
    "sign lost and zero": (HEAD + "0,0\n500,3.9\n750,5.9\n", "the sign is lost"),
    "one sign lost": (HEAD + TAIL + "1250,9.84\n", "line 5: 9.84 V is above zero.*check the sign"),
    "millivolts": (HEAD + "250,-1970\n500,-3940\n750,-5910\n", "line 2: -1970 V.*millivolts"),
    "mil called µm": (HEAD + "10,-2\n20,-4\n30,-6\n", "200 mV/µm is more than.*gaps in mil"),
    "mm called µm": (HEAD + "0.25,-2\n0.5,-4\n0.75,-6\n", "8000 mV/µm.*gaps in mm"),
    "kilovolts": (HEAD + "250,-0.002\n500,-0.004\n750,-0.006\n", "0.008 mV/µm is less than"),
    "text in a number": (HEAD + TAIL + "1250,about -9\n", "line 5, column volts: 'about -9' is no"),
    "a unit behind a number": (HEAD + TAIL + "1250 um,-9.84\n", "line 5, column gap_um: '1250 um'"),
    "an empty field": (HEAD + TAIL + "1250,\n", "line 5, column volts: the field is empty"),
    "a field too few": (HEAD + TAIL + "1250\n", "line 5 has 1 fields in place of 2"),
    "an empty gap": (HEAD + TAIL + ",-9.84\n", "column gap_um: the field is empty"),
    "decimal comma": (
        "gap_um,volts\n250,-1,97\n500,-3,94\n750,-5,91\n",
        "separator must be ';' or a tab",
    ),
    "quoted decimal comma": (HEAD + TAIL + '1250,"-9,84"\n', "separator must be ';' or a tab"),
    "comma and point": ("gap_um;volts\n250;-1,97\n500.5;-3.94\n750;-5\n", "decimal commas and poi"),
    "thousands": ("gap_um;volts\n250;-2\n500;-4\n1.250,5;-6\n", "decimal commas and points"),
    "NaN": (HEAD + TAIL + "1250,NaN\n", "line 5, column volts: 'NaN' is no number"),
    "infinite": (HEAD + TAIL + "1250,-inf\n", "'-inf' is no number"),
    "a number too large": (HEAD + TAIL + "1e999,-9\n", "'1e999' is no number"),
    "a gap below zero": (HEAD + TAIL + "-5,-0.1\n", "the gap -5 is below zero"),
    "loose quotes": (HEAD + TAIL + '1250,"-9.84\n', "line 5 has quotes that do not match"),
    "remarks alone": ("# nothing\n\n", "there is no table in it"),
    "too many rows": (HEAD + "".join(f"{i},-{i / 100}\n" for i in range(1, 2500)), "too many"),
    "NUL": (HEAD + TAIL + "\0\0\0", "binary file"),
    "another table": ("time_s,DE_X\n0,-9.8\n0.1,-9.9\n0.2,-9.8\n", "there are time_s, DE_X"),
}


@pytest.mark.parametrize(("text", "said"), BAD.values(), ids=BAD.keys())
def test_bad_tables_are_refused_in_one_line(text: str, said: str) -> None:
    with pytest.raises(InputError, match=said) as caught:
        parse_calibration_table(text, "de_x.csv")
    line = str(caught.value)
    assert line.startswith("de_x.csv: ")
    assert line.isprintable()
    assert len(line) < 300
    assert ";" in line  # what is wrong; the mend


class TestFiles:
    def refused(self, path: Path) -> str:
        with pytest.raises(InputError) as caught:
            read_calibration_table(path)
        line = str(caught.value)
        assert line.isprintable()
        assert line.startswith(path.name) or str(path) in line
        return line

    def test_a_file(self, tmp_path: Path) -> None:
        path = tmp_path / "de_x.csv"
        path.write_bytes(GOOD["decimal comma"].encode("utf-8-sig"))
        table = read_calibration_table(path)
        assert (table.rows, table.source) == (ROWS, "de_x.csv")

    def test_missing(self, tmp_path: Path) -> None:
        assert "no such file" in self.refused(tmp_path / "none.csv")

    def test_empty(self, tmp_path: Path) -> None:
        path = tmp_path / "empty.csv"
        path.touch()
        assert "the file is empty" in self.refused(path)

    def test_a_folder(self, tmp_path: Path) -> None:
        assert "is a folder" in self.refused(tmp_path)

    @pytest.mark.parametrize(
        "raw",
        [b"\x89PNG\r\n\x1a\n\x00\x00", bytes(range(256)) * 8, b"\x89HDF\r\n\x1a\n" + b"\0" * 800],
    )
    def test_binary(self, tmp_path: Path, raw: bytes) -> None:
        path = tmp_path / "picture.csv"
        path.write_bytes(raw)
        assert "not UTF-8 text" in self.refused(path)

    def test_zeros(self, tmp_path: Path) -> None:
        path = tmp_path / "zeros.csv"
        path.write_bytes(b"\0" * 4096)
        assert "binary file" in self.refused(path)

    @pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "latin-1"])
    def test_other_encodings(self, tmp_path: Path, encoding: str) -> None:
        path = tmp_path / "table.csv"
        path.write_bytes("gap (µm),volts\n250,-2\n500,-4\n750,-6\n".encode(encoding))
        line = self.refused(path)
        assert "UTF-8" in line

    def test_ten_megabytes(self, tmp_path: Path) -> None:
        path = tmp_path / "long.csv"
        path.write_bytes(b"gap_um,volts\n" + b"250,-1.97\n" * 1_000_000)
        assert "10.0 MB is far too large" in self.refused(path)


@settings(max_examples=300, deadline=None)
@given(
    st.text(
        alphabet=st.sampled_from("gap_umilvots,;\t\n\r 0123456789.-+eE\"'#NaN\0µ−"), max_size=200
    )
)
def test_any_text_is_a_table_or_one_line(text: str) -> None:
    check_one(text)


@settings(max_examples=200, deadline=None)
@given(st.data())
def test_mutated_tables(data: st.DataObject) -> None:
    text = data.draw(st.sampled_from(sorted(GOOD.values())))
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(text)))
        text = (
            text[:at] + data.draw(st.text(max_size=3)) + text[at + data.draw(st.integers(0, 3)) :]
        )
    check_one(text)


def check_one(text: str) -> None:
    line = ""
    try:
        table = parse_calibration_table(text)
    except InputError as error:
        line = str(error)
    if line:
        assert line.isprintable()
        assert line.startswith("pasted table: ")
        return
    gaps = [gap for gap, _ in table.rows]
    volts = [v for _, v in table.rows]
    assert len(gaps) >= 3
    assert gaps == sorted(set(gaps))
    assert volts == sorted(set(volts), reverse=True)
    assert max(volts) <= 0.0
