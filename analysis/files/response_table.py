"""Reading a table of vectors against speed: `speed_rpm` and the 1X columns of `revolutions`.

CSV with a comma, semicolon or tab between the fields, a decimal point or (not with the comma)
a decimal comma, UTF-8, `#` lines before the header left out. Columns: `speed_rpm`; for each probe
NAME `NAME.1x_um_pp` and `NAME.1x_deg` (phase lag), other orders (`NAME.2x_um_pp` …) likewise; and,
when there, `time_s`. Any other column is left alone. An empty field or `nan` is no value.
"""

from __future__ import annotations

import csv
import math
import os
import re
from pathlib import Path

import numpy as np

from analysis.model.response_results import ResponseTable
from analysis.model.results import Complexes, Floats

from .access import as_path, plain_file_size
from .wording import file_error, one_line, system_error, unknown_name

MAX_BYTES = 256 << 20
NEEDED = "speed_rpm, and for each probe NAME.1x_um_pp and NAME.1x_deg"
"""The columns that such a table needs, for messages."""

_LEAST_ROWS = 3
_AMPLITUDE = re.compile(r"^(?P<name>.+)\.(?P<order>\d{1,3})x_um_pp$")
_HDF5_SIGNATURE = b"\x89HDF\r\n\x1a\n"
_HEAD_BYTES = 1 << 16


def looks_like_response_table(path: str | os.PathLike[str]) -> bool:
    """Whether the header of a text file has the speeds of a table (a capture has none)."""
    file = as_path(path)
    plain_file_size(file)
    try:
        with file.open("rb") as stream:
            head = stream.read(_HEAD_BYTES)
    except OSError as error:
        raise system_error(file, error, "reading it") from error
    if head.startswith(_HDF5_SIGNATURE) or b"\0" in head:
        return False
    for line in head.decode("utf-8-sig", "replace").splitlines():
        if line.strip() and not line.startswith("#"):
            names = _fields(line, _separator(line))
            return "speed_rpm" in names or any(_AMPLITUDE.match(name) for name in names)
    return False


def read_response_table(path: str | os.PathLike[str]) -> ResponseTable:
    """Read a table.

    Raises:
        InputError: one clear line with the file's name, the line, what is wrong and the mend.
    """
    file = as_path(path)
    if plain_file_size(file) > MAX_BYTES:
        raise file_error(file, f"larger than {MAX_BYTES >> 20} MiB", "write fewer columns or rows")
    try:
        text = file.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise system_error(file, error, "reading it") from error
    except UnicodeDecodeError as error:
        raise file_error(file, "is no UTF-8 text", "save it again with that encoding") from error
    lines = [
        (number, line)
        for number, line in enumerate(text.splitlines(), 1)
        if line.strip() and not line.startswith("#")
    ]
    if not lines:
        raise file_error(file, "is empty", f"a table needs the columns {NEEDED}")
    separator = _separator(lines[0][1])
    names = _fields(lines[0][1], separator)
    wanted = _columns(file, names)
    columns = _numbers(file, lines[1:], names, wanted, separator)
    return _table(file, columns, names)


def _separator(line: str) -> str:
    return max(";\t,", key=line.count)


def _fields(line: str, separator: str) -> list[str]:
    rows = list(csv.reader([line], delimiter=separator))
    return [field.strip() for field in rows[0]] if rows else []


def _columns(file: Path, names: list[str]) -> list[str]:
    """The columns that are read, or an error that says which are missing."""
    twice = sorted({name for name in names if name and names.count(name) > 1})
    if twice:
        raise file_error(
            file, f"the column '{one_line(twice[0], 60)}' stands twice", "rename one of them"
        )
    if "speed_rpm" not in names:
        raise file_error(
            file, unknown_name("speed_rpm", "column", [n for n in names if n]), f"needed: {NEEDED}"
        )
    amplitudes = [name for name in names if _AMPLITUDE.match(name)]
    if not any(name.endswith(".1x_um_pp") for name in amplitudes):
        raise file_error(file, "there is no column NAME.1x_um_pp", f"needed: {NEEDED}")
    wanted = ["speed_rpm", *(["time_s"] if "time_s" in names else [])]
    for name in amplitudes:
        lag = name.removesuffix("um_pp") + "deg"
        if lag not in names:
            raise file_error(
                file,
                f"there is no column '{one_line(lag, 60)}' beside '{one_line(name, 60)}'",
                "amplitude alone cannot be compensated; add the phase lag in degrees",
            )
        wanted += [name, lag]
    return wanted


def _numbers(
    file: Path,
    lines: list[tuple[int, str]],
    names: list[str],
    wanted: list[str],
    separator: str,
) -> dict[str, Floats]:
    places = [names.index(name) for name in wanted]
    values = np.full((len(lines), len(wanted)), math.nan)
    reader = csv.reader((line for _, line in lines), delimiter=separator)
    try:
        for row, fields in enumerate(reader):
            number = lines[min(row, len(lines) - 1)][0]
            if len(fields) > len(names) or len(fields) <= max(places):
                raise file_error(
                    file,
                    f"line {number} has {len(fields)} fields, the header has {len(names)}",
                    "mend that line",
                )
            for column, place in enumerate(places):
                values[row, column] = _number(file, fields[place], wanted[column], number)
    except csv.Error as error:
        raise file_error(file, f"is no clean CSV ({one_line(error, 80)})", "export it again") from (
            error
        )
    return {name: values[:, k] for k, name in enumerate(wanted)}


def _number(file: Path, field: str, name: str, line: int) -> float:
    text = field.strip()
    if not text or text.lower() == "nan":
        return math.nan
    try:
        value = float(text if "," not in text else text.replace(",", ".", 1))
    except ValueError:
        value = math.inf
    if math.isinf(value):
        raise file_error(
            file,
            f"line {line}: '{one_line(text, 40)}' in column {one_line(name, 60)} is no number",
            "mend it or leave the field empty",
        )
    if value < 0.0 and (name == "speed_rpm" or name.endswith("_um_pp")):
        what = "a speed" if name == "speed_rpm" else "an amplitude"
        raise file_error(file, f"line {line}: {what} below 0 ({text})", "mend that line")
    return value


def _table(file: Path, columns: dict[str, Floats], names: list[str]) -> ResponseTable:
    speed = columns["speed_rpm"]
    known = np.isfinite(speed) & (speed > 0.0)
    if np.count_nonzero(known) < _LEAST_ROWS:
        raise file_error(
            file, f"only {np.count_nonzero(known)} rows with a speed", "a response needs a run"
        )
    vectors: dict[str, dict[int, Complexes]] = {}
    for name, values in columns.items():
        match = _AMPLITUDE.match(name)
        if match is None:
            continue
        lag = columns[name.removesuffix("um_pp") + "deg"]
        turned: Complexes = np.exp(-1j * np.radians(lag[known])) + 0j
        vector = values[known] * turned
        of_probe = vectors.setdefault(match["name"], {})
        of_probe[int(match["order"])] = vector
    notices = []
    if "time_s" in names:
        time: Floats = columns["time_s"][known]
    else:
        time = np.full(np.count_nonzero(known), math.nan)
        notices.append("the table has no column time_s: sweep rates are not known")
    return ResponseTable(file.name, time, speed[known], vectors, tuple(notices))
