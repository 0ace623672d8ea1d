"""The content of a check's record as rich text, in the subset that Qt lays out."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from html import escape
from typing import TYPE_CHECKING, Final

from app.plots.style import Theme, palette

if TYPE_CHECKING:
    from analysis.model.record import (
        CheckRecord,
        Instrument,
        Outcome,
        ProbeIdentity,
        RecordTable,
        Signature,
        StepTable,
    )

DASH: Final = "–"
# A number and its unit stay on one line.
_BEFORE_UNIT: Final = re.compile(r"(?<=[\d±]) (?=(?:µm|mil|mV|V|mA|s|Ω|%|Hz|r/min|°C|\d)(?!\w))")
_KINDS: Final = {
    "proof_test": "Proof test of limits",
    "probe_calibration": "Probe calibration",
    "calibrator_run": "Probe on a calibrator",
    "loop_check": "Current loop check",
}
# Shape and word first, colour second.
_MARKS: Final = {
    "pass": "✓",
    "fail": "✗",
    "not done": "–",
    "not found": "?",
    "information": "·",
}


@dataclass(frozen=True)
class Piece:
    """What stays on one page.

    `keep`: the next piece is to stand on the same page. `head`: what is repeated above this piece
    when it begins a page: the heads of its table's columns. `space_mm` is left free above it,
    except at the top of a page.
    """

    html: str
    keep: bool = False
    head: str = ""
    space_mm: float = 0.0


def record_pieces(record: CheckRecord) -> list[Piece]:
    """The whole record from top to bottom; every text of it is escaped."""
    pieces = [*_head(record), *_verdicts(record)]
    pieces += _chains(record.probe) + _instruments(record.instrument)
    pieces += _paragraphs("Cautions", [f"·  {text}" for text in record.cautions])
    for table in record.table:
        pieces += _table(table)
    for steps in record.steps:
        pieces += _steps(steps)
    pieces += _paragraphs("Remarks", [record.remarks] if record.remarks else [])
    return pieces + _signatures(record.signature)


def style_text() -> str:
    """The default style sheet of the document, in the colours of the light theme."""
    colours = palette(Theme.LIGHT)
    return f"""
body {{ color: {colours.ink}; }}
h1 {{ font-size: 17pt; font-weight: 600; margin-top: 0; margin-bottom: 1px; }}
h2 {{ font-size: 10.5pt; font-weight: 600; margin-top: 0; margin-bottom: 3px; }}
p {{ margin-top: 0; margin-bottom: 4px; }}
.muted {{ color: {colours.muted}; }}
.pass {{ color: {colours.normal}; font-weight: 600; }}
.fail {{ color: {colours.trip}; font-weight: 600; }}
.open {{ color: {colours.alarm_ink}; font-weight: 600; }}
table {{ border-collapse: collapse; }}
th {{ color: {colours.muted}; font-weight: 400; text-align: left;
      border-bottom: 1px solid {colours.axis}; padding: 2px 14px 2px 0; }}
td {{ border-bottom: 1px solid {colours.hairline}; padding: 2px 14px 3px 0; }}
"""


def kind_text(record: CheckRecord) -> str:
    """What kind of check it is, in words."""
    return _KINDS[record.kind]


def outcome_of(record: CheckRecord) -> Outcome:
    """The whole, by its verdicts: failed when one failed, else not done while one is open."""
    # Verdicts sum up the steps; earlier ones (as found, before as left) stand as information.
    results = [verdict.result for verdict in record.verdict if verdict.result != "information"]
    if not results:
        results = [step.result for table in record.steps for step in table.steps]
    if "fail" in results:
        return "fail"
    return "pass" if results and all(result == "pass" for result in results) else "not done"


def _head(record: CheckRecord) -> list[Piece]:
    made = "" if record.made_at is None else _when(record.made_at)
    ambient = "" if record.ambient_c is None else f"{record.ambient_c:.1f} °C"
    lines = [
        ("Machine", record.machine),
        ("Site", record.site),
        ("Done by", record.made_by),
        ("When", made),
        ("Ambient", ambient),
        ("Source", record.source),
        *((field.name, field.value) for field in record.field),
    ]
    number = f" · {record.number}" if record.number else ""
    title = (
        f"<p class='muted'>{escape(kind_text(record))}{escape(number)}</p>"
        f"<h1>{_cell(record.title)}</h1>"
    )
    rows = [(f"<span class='muted'>{_cell(name)}</span>", _cell(value)) for name, value in lines]
    return [Piece(title, keep=True), *(Piece(_row(row, (21, 79))) for row in rows)]


def _verdicts(record: CheckRecord) -> list[Piece]:
    words = {"pass": "Passed", "fail": "Failed", "not done": "Not complete"}
    outcome = outcome_of(record)
    text = f"<p class='{_class(outcome)}'>{_MARKS[outcome]} {words[outcome]}</p>"
    rows = [
        (_outcome(verdict.result), _cell(verdict.text), _cell(verdict.basis))
        for verdict in record.verdict
    ]
    out = [_heading("Result"), Piece(text, keep=bool(rows))]
    return out + (_grid(("Verdict", "What", "Basis"), rows, (14, 48, 38)) if rows else [])


def _chains(probes: tuple[ProbeIdentity, ...]) -> list[Piece]:
    rows = [
        tuple(
            _cell(text)
            for text in (
                probe.name,
                probe.probe_serial,
                probe.cable_serial,
                probe.driver_serial,
                probe.target_material,
                probe.scale_factor,
            )
        )
        for probe in probes
    ]
    head = ("Probe", "Probe serial", "Cable serial", "Driver serial", "Target", "Scale factor")
    return _section("Measuring chains", head, rows, (14, 16, 16, 16, 18, 20))


def _instruments(instruments: tuple[Instrument, ...]) -> list[Piece]:
    rows = [
        tuple(
            _cell(text)
            for text in (
                each.name,
                each.serial,
                _day(each.calibrated_on),
                _day(each.due_on),
                each.certificate,
            )
        )
        for each in instruments
    ]
    head = ("Instrument", "Serial", "Calibrated", "Due", "Certificate")
    return _section("Instruments used", head, rows, (34, 18, 14, 14, 20))


def _paragraphs(title: str, texts: list[str]) -> list[Piece]:
    if not texts:
        return []
    return [_heading(title), *(Piece(_paragraph(text)) for text in texts)]


def _table(table: RecordTable) -> list[Piece]:
    width = 100 // len(table.columns)
    rows = [tuple(_cell(cell) for cell in row) for row in table.rows]
    title = _staged(table.title, table.stage)
    note = [Piece(_paragraph(table.note))] if table.note else []
    return _section(title, table.columns, rows, (width,) * len(table.columns), empty=True) + note


def _steps(table: StepTable) -> list[Piece]:
    rows = []
    for step in table.steps:
        do = f"<br>{_cell(step.do)}" if step.do else ""
        remark = f"<br><span class='muted'>{_cell(step.remark)}</span>" if step.remark else ""
        rows.append(
            (
                str(step.number),
                f"<b>{_cell(step.title)}</b>{do}",
                _cell(step.expected),
                _cell(step.read) + remark,
                _outcome(step.result),
            )
        )
    head = ("", "Step", "Expected", "Read", "Result")
    return _section(_staged(table.title, table.stage), head, rows, (5, 32, 33, 19, 11), empty=True)


def _signatures(signatures: tuple[Signature, ...]) -> list[Piece]:
    rows = [
        (
            f"<br><br>{_cell(each.role)}",
            f"<br><br>{_cell(each.name, '')}",
            "",
            f"<br><br>{_day(each.signed_on) if each.signed_on else ''}",
        )
        for each in signatures
    ]
    pieces = _section("Signatures", ("Role", "Name", "Signature", "Date"), rows, (22, 28, 32, 18))
    return [replace(piece, keep=piece is not pieces[-1]) for piece in pieces]


def _section(
    title: str,
    head: Sequence[str],
    rows: list[tuple[str, ...]],
    widths: Sequence[int],
    *,
    empty: bool = False,
) -> list[Piece]:
    if not rows and not empty:
        return []
    return [_heading(title), *_grid(head, rows, widths)]


def _grid(head: Sequence[str], rows: Sequence[Sequence[str]], widths: Sequence[int]) -> list[Piece]:
    """A table, one piece a row: Qt would cut rows in two at the foot of a page."""
    if not rows:
        return [Piece("<p class='muted'>none</p>")]
    heads = _row([escape(text) for text in head], widths, "th")
    return [Piece(heads, keep=True), *(Piece(_row(row, widths), head=heads) for row in rows)]


def _row(cells: Sequence[str], widths: Sequence[int], tag: str = "td") -> str:
    inner = "".join(
        f"<{tag} width='{width}%'>{cell}</{tag}>" for cell, width in zip(cells, widths, strict=True)
    )
    return f"<table width='100%' cellspacing='0'><tr>{inner}</tr></table>"


def _heading(text: str) -> Piece:
    return Piece(f"<h2>{escape(text)}</h2>", keep=True, space_mm=4.5)


def _paragraph(text: str) -> str:
    return f"<p>{_cell(text)}</p>"


def _staged(title: str, stage: str) -> str:
    return f"{title}, {stage}" if stage else title


def _outcome(result: Outcome) -> str:
    return f"<span class='{_class(result)}'>{_MARKS[result]} {escape(result)}</span>"


def _class(result: Outcome) -> str:
    if result in ("pass", "fail"):
        return result
    return "muted" if result == "information" else "open"


def _cell(value: str | float | None, nothing: str = DASH) -> str:
    if value is None or value == "":
        return nothing
    if isinstance(value, float):
        return escape(f"{value:g}".replace("-", "−"))
    value = _BEFORE_UNIT.sub("\u00a0", value)
    return "<br>".join(
        " ".join(escape(_unbroken(word)) for word in line.split(" ")) for line in value.split("\n")
    )


def _unbroken(word: str, longest: int = 14) -> str:
    """Tags such as DE-X stay on one line; what is longer may break anywhere."""
    return word.replace("-", "\u2011") if len(word) <= longest else word


def _day(day: date | None) -> str:
    return DASH if day is None else day.isoformat()


def _when(moment: datetime) -> str:
    zone = moment.strftime("%z")
    return moment.strftime("%Y-%m-%d %H:%M") + (f" {zone[:3]}:{zone[3:]}" if zone else "")
