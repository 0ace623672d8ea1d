"""The record of a check as a PDF, A4, drawn off screen."""

from __future__ import annotations

import math
import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QMarginsF, QRectF, QSizeF, Qt
from PySide6.QtGui import (
    QColor,
    QFont,
    QGuiApplication,
    QPageLayout,
    QPageSize,
    QPainter,
    QPdfWriter,
    QTextDocument,
)
from PySide6.QtWidgets import QApplication

from analysis.files.atomic import replacing
from analysis.files.record_file import write_record
from analysis.model.errors import InputError
from analysis.reporting.caution import CAUTION
from app.plots import style

from .record_html import kind_text, record_pieces, style_text

if TYPE_CHECKING:
    from analysis.model.record import CheckRecord

_DOTS_AN_INCH: Final = 300
_MARGINS_MM: Final = QMarginsF(17.0, 14.0, 17.0, 14.0)
_EDGE_MM: Final = 9.0  # height of the lines at the head and the foot


def write_check(record: CheckRecord, pdf_path: Path) -> tuple[Path, Path]:
    """Write the record as a PDF and, beside it under the same name, as TOML.

    Returns:
        The two files.

    Raises:
        InputError: when either cannot be written.
    """
    toml_path = pdf_path.with_suffix(".toml")
    write_record_pdf(record, pdf_path)
    write_record(toml_path, record)
    return pdf_path, toml_path


def write_record_pdf(record: CheckRecord, path: Path) -> int:
    """Write the record as a PDF; needs no screen. Returns the number of pages.

    Raises:
        InputError: when the file cannot be written.
    """
    _application()
    with replacing(path) as temporary:
        writer = QPdfWriter(str(temporary))
        writer.setTitle(record.title)
        writer.setCreator("Runtrue")
        writer.setResolution(_DOTS_AN_INCH)
        writer.setPageLayout(
            QPageLayout(
                QPageSize(QPageSize.PageSizeId.A4),
                QPageLayout.Orientation.Portrait,
                _MARGINS_MM,
                QPageLayout.Unit.Millimeter,
            )
        )
        pages = lay_pages(record, writer)
        painter = QPainter()
        if not painter.begin(writer):
            raise InputError(f"{path.name}: the PDF could not be written; is the disk full?")
        try:
            _paint(pages, painter, writer, record)
        finally:
            painter.end()
        if temporary.stat().st_size == 0:
            raise InputError(f"{path.name}: the PDF could not be written; is the disk full?")
        return len(pages)


@dataclass(frozen=True)
class Placed:
    """A piece on its page: how far down, and which part of it (`skip` dots are on pages before)."""

    document: QTextDocument
    top: float
    skip: float
    height: float


Pages = list[list[Placed]]


def lay_pages(record: CheckRecord, writer: QPdfWriter) -> Pages:
    """Put the record's pieces on pages of the writer's size, between the lines at head and foot.

    Pieces stay whole, headings stay with what follows, and a table that goes on repeats its heads.
    Only what is longer than a page goes over several.
    """
    # Whole dots: Qt rounds the height of its pages.
    room = float(math.floor(writer.height() - 2.0 * _dots(_EDGE_MM)))
    pieces = record_pieces(record)
    documents = [_document(piece.html, writer, room) for piece in pieces]
    pages: Pages = [[]]
    used, at = 0.0, 0
    while at < len(pieces):
        last = at
        while pieces[last].keep and last + 1 < len(pieces):
            last += 1
        group = documents[at : last + 1]
        used += _dots(pieces[at].space_mm) if used > 0.0 else 0.0
        if used > 0.0 and used + sum(map(_height, group)) > room:
            pages.append([])
            used = 0.0
            if pieces[at].head:
                used = _place(pages, _document(pieces[at].head, writer, room), used, room)
        for document in group:
            used = _place(pages, document, used, room)
        at = last + 1
    return pages


def _place(pages: Pages, document: QTextDocument, used: float, room: float) -> float:
    """Put a piece below what the last page holds, on new pages as far as need be."""
    height = _height(document)
    if used > 0.0 and used + height > room:
        pages.append([])
        used = 0.0
    # A piece longer than a page is laid out in pages itself, so that no line is cut.
    sheets = document.pageCount()
    for sheet in range(sheets):
        if sheet:
            pages.append([])
            used = 0.0
        part = room if sheet + 1 < sheets else height - sheet * room
        pages[-1].append(Placed(document, used, sheet * room, part))
        used += part
    return used


def _document(html: str, writer: QPdfWriter, room: float) -> QTextDocument:
    document = QTextDocument()
    document.documentLayout().setPaintDevice(writer)
    document.setDocumentMargin(0.0)
    document.setDefaultFont(_font(8.5))
    document.setDefaultStyleSheet(style_text())
    document.setHtml(f"<html><body>{html}</body></html>")
    document.setPageSize(QSizeF(writer.width(), -1.0))
    document.setTextWidth(writer.width())
    if document.size().height() > room:
        document.setPageSize(QSizeF(writer.width(), room))
    return document


def _height(document: QTextDocument) -> float:
    """To the end of what is written; of a document in pages the last one counts as far as that."""
    if document.pageCount() == 1:
        return document.size().height()
    return document.documentLayout().blockBoundingRect(document.lastBlock()).bottom()


def _paint(pages: Pages, painter: QPainter, writer: QPdfWriter, record: CheckRecord) -> None:
    edge = _dots(_EDGE_MM)
    for number, page in enumerate(pages, 1):
        if number > 1:
            writer.newPage()
        _paint_edges(painter, writer, record, f"Page {number} of {len(pages)}")
        for placed in page:
            painter.save()
            painter.translate(0.0, edge + placed.top - placed.skip)
            part = QRectF(0.0, placed.skip, writer.width(), placed.height)
            placed.document.drawContents(painter, part)
            painter.restore()


def _paint_edges(painter: QPainter, writer: QPdfWriter, record: CheckRecord, place: str) -> None:
    colours = style.palette(style.Theme.LIGHT)
    width, height, edge = writer.width(), writer.height(), _dots(_EDGE_MM)
    painter.setFont(_font(7.0))
    painter.setPen(QColor(colours.muted))
    head = " · ".join(text for text in (kind_text(record), record.title, record.machine) if text)
    above, below = QRectF(0.0, 0.0, width, edge), QRectF(0.0, height - edge, width, edge)
    left, right = Qt.AlignmentFlag.AlignLeft, Qt.AlignmentFlag.AlignRight
    number = record.number or record.program
    metrics = painter.fontMetrics()
    room = int(width - metrics.horizontalAdvance(number) - _dots(6.0))
    head = metrics.elidedText(head, Qt.TextElideMode.ElideRight, room)
    painter.drawText(above, left | Qt.AlignmentFlag.AlignTop, head)
    painter.drawText(above, right | Qt.AlignmentFlag.AlignTop, number)
    painter.drawText(below, left | Qt.AlignmentFlag.AlignBottom, CAUTION)
    painter.drawText(below, right | Qt.AlignmentFlag.AlignBottom, place)


def _font(points: float) -> QFont:
    made = QFont(style.font("body"))
    # Glyphs that stand in for others (figures of equal width, a colon raised between figures) come
    # without their characters into the PDF: they could be neither searched nor copied.
    for tag in made.featureTags():
        made.unsetFeature(tag)
    made.setFeature(QFont.Tag("calt"), 0)
    made.setPointSizeF(points)
    return made


def _dots(millimetres: float) -> float:
    return millimetres / 25.4 * _DOTS_AN_INCH


def _application() -> None:
    if QGuiApplication.instance() is None:
        os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
        # Kept by Qt itself as the one instance; the window's kind, since others may ask for it.
        global _own
        _own = QApplication(["runtrue"])
    style.load_fonts()


_own: QApplication | None = None
