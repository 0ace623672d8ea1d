"""The head of a CSV file: its first lines, its encoding, and its `# key = value` lines."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

from .wording import file_error, system_error

_HEAD_BYTES = 4 * 1024 * 1024
_HEAD_LINES = 1200
_UTF8_BOM = b"\xef\xbb\xbf"
_UTF16_BOMS = (b"\xff\xfe", b"\xfe\xff")

ATTRIBUTE_KEYS = (
    "runtrue_capture",
    "title",
    "started_at",
    "notes",
    "setup",
    "sample_rate_hz",
    "start_s",
)
"""Keys of the leading lines; any other `#` line is a remark."""


@dataclass(frozen=True)
class CsvHead:
    """The first lines, without line ends; `offsets` is where each starts in the file, in bytes."""

    path: Path
    lines: tuple[str, ...]
    offsets: tuple[int, ...]
    size: int


def read_head(path: Path, size: int) -> CsvHead:
    """The first lines of a text file.

    Raises:
        InputError: not UTF-8, binary, or lines too long for a table.
    """
    try:
        with path.open("rb") as file:
            raw = file.read(_HEAD_BYTES)
    except OSError as error:
        raise system_error(path, error, "reading it") from error
    if raw.startswith(_UTF16_BOMS) or _looks_like_utf16(raw):
        raise file_error(path, "the text is UTF-16", "save it again with the encoding UTF-8")
    if b"\0" in raw:
        raise file_error(
            path,
            f"line {raw.count(bytes([10]), 0, raw.index(0)) + 1} holds a NUL byte: this is "
            f"neither HDF5 nor clean text",
            "export it again as CSV (UTF-8) or HDF5",
        )
    if b"\n" not in raw:
        _refuse_single_line(path, raw, size)
    start = len(_UTF8_BOM) if raw.startswith(_UTF8_BOM) else 0
    pieces = _first_pieces(raw, start)
    if len(pieces) > _HEAD_LINES or len(raw) < size:
        pieces.pop()
    lines, offsets = [], []
    for number, piece in enumerate(pieces, 1):
        try:
            lines.append(piece.decode("utf-8").removesuffix("\r"))
        except UnicodeDecodeError as error:
            raise file_error(
                path, f"line {number} is not UTF-8 text", "save it again with the encoding UTF-8"
            ) from error
        offsets.append(start)
        start += len(piece) + 1
    return CsvHead(path, tuple(lines), tuple(offsets), size)


def _first_pieces(raw: bytes, start: int) -> list[bytes]:
    """The first lines from `start`, and one more that may be cut: splitting all copies it all."""
    end = start
    for _ in range(_HEAD_LINES):
        found = raw.find(b"\n", end)
        if found < 0:
            return raw[start:].split(b"\n")
        end = found + 1
    return raw[start:end].split(b"\n")


def read_attributes(lines: tuple[str, ...]) -> dict[str, str]:
    r"""The known `# key = value` lines at the start; the first of a key counts.

    A value in double quotes is a JSON string, so that line breaks can stand in it as `\n`; any
    other is taken as it stands, without the separators that spreadsheets add at the end.
    """
    found: dict[str, str] = {}
    for line in lines:
        if line.strip() and not line.startswith("#"):
            break
        key, equals, value = line.lstrip("#").partition("=")
        key = key.strip()
        if equals and key in ATTRIBUTE_KEYS:
            found.setdefault(key, _unquoted(value.strip().rstrip(",;\t").rstrip()))
    return found


def attribute_line(key: str, value: str) -> str:
    """A `# key = value` line that `read_attributes` reads back exactly."""
    plain = value.isprintable() and value == value.strip() and not value.startswith('"')
    if not plain or value.endswith((",", ";")) or not value:
        value = json.dumps(value, ensure_ascii=False)
    return f"# {key} = {value}\n"


def _unquoted(value: str) -> str:
    if len(value) >= 2 and value.startswith('"') and value.endswith('"'):
        for text in (value, _without_doubled_quotes(value)):
            try:
                decoded = json.loads(text)
            except ValueError:
                continue
            if isinstance(decoded, str):
                return decoded
    return value


def _without_doubled_quotes(value: str) -> str:
    """Spreadsheets double the quotes inside a field."""
    return '"' + value[1:-1].replace('""', '\\"') + '"'


def _looks_like_utf16(raw: bytes) -> bool:
    """UTF-16 without a mark: every other byte of plain Latin text is zero."""
    sample = raw[:200]
    return len(sample) >= 4 and (not any(sample[1::2]) or not any(sample[0::2]))


def _refuse_single_line(path: Path, raw: bytes, size: int) -> None:
    if b"\r" in raw:
        raise file_error(
            path, "the lines end with CR alone", "save it again with line ends LF or CR LF"
        )
    if len(raw) < size or len(raw) > 1024 * 1024:
        raise file_error(path, "line 1 never ends", "a capture is a table with one row a sample")
