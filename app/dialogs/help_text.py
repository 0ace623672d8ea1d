"""The help pages of `resources/help`: reading one, and giving its document the program's look."""

from __future__ import annotations

from collections.abc import Iterator
from importlib.resources import files

from PySide6.QtGui import (
    QColor,
    QFont,
    QTextBlock,
    QTextBlockFormat,
    QTextCharFormat,
    QTextCursor,
    QTextDocument,
    QTextFrame,
    QTextFrameFormat,
    QTextLength,
    QTextTable,
)

from app.plots.fonts import FAMILIES, font
from app.plots.palette import Palette, Theme, palette

_FEATURES = (
    QTextDocument.MarkdownFeature.MarkdownDialectGitHub
    | QTextDocument.MarkdownFeature.MarkdownNoHTML
)
_HEADINGS = {1: (19, 0, 6), 2: (15, 14, 4)}
"""Level of a heading to its size and the room above and below it, pixels."""

_PARAGRAPH_BELOW = 7
_FIRST_COLUMN = 24.0
"""Per cent of a table's width: what is told of there is a few words."""


def help_markdown(key: str) -> str:
    """The help on a page, as Markdown.

    Raises:
        FileNotFoundError: there is none under this key.
    """
    return (files("resources") / "help" / f"{key}.md").read_text(encoding="utf-8")


def write_help(document: QTextDocument, markdown: str, theme: Theme) -> None:
    """Fill a document with Markdown, in the fonts and colours of the program.

    Qt's reader takes sizes, a bold and a fixed-width family of its own, which the program does not
    ship, and the link colour of whatever palette there was.
    """
    document.setDefaultFont(font("body"))
    document.setMarkdown(markdown, _FEATURES)
    colours = palette(theme)
    cursor = QTextCursor(document)
    cursor.beginEditBlock()
    for block in _blocks(document):
        _dress_block(cursor, block, colours)
    for table in document.rootFrame().childFrames():
        _dress_table(table, colours)
    cursor.endEditBlock()
    document.setModified(False)


def _blocks(document: QTextDocument) -> Iterator[QTextBlock]:
    block = document.begin()
    while block.isValid():
        yield block
        block = block.next()


def _dress_block(cursor: QTextCursor, block: QTextBlock, colours: Palette) -> None:
    level = block.blockFormat().headingLevel()
    # Positions first: a format that changes joins or splits the pieces that are gone through.
    pieces = [
        (piece.position(), piece.length(), piece.charFormat())
        for piece in (step.fragment() for step in block)
    ]
    for start, length, was in pieces:
        cursor.setPosition(start)
        cursor.setPosition(start + length, QTextCursor.MoveMode.KeepAnchor)
        cursor.setCharFormat(_character_format(was, level, colours))
    cursor.setPosition(block.position())
    shape = QTextBlockFormat()
    if level in _HEADINGS:
        _, above, below = _HEADINGS[level]
        shape.setTopMargin(above)
        shape.setBottomMargin(below)
    elif cursor.currentTable() is None:
        shape.setBottomMargin(_PARAGRAPH_BELOW)
    shape.setLineHeight(125.0, QTextBlockFormat.LineHeightTypes.ProportionalHeight.value)
    cursor.mergeBlockFormat(shape)


def _character_format(was: QTextCharFormat, level: int, colours: Palette) -> QTextCharFormat:
    made = QTextCharFormat()
    made.setFontFamilies(list(FAMILIES))
    made.setProperty(QTextCharFormat.Property.FontPixelSize, font("body").pixelSize())
    made.setForeground(QColor(colours.ink))
    strong = bool(level) or was.fontWeight() > QFont.Weight.Medium
    made.setFontWeight(QFont.Weight.DemiBold if strong else QFont.Weight.Normal)
    if level in _HEADINGS:
        made.setProperty(QTextCharFormat.Property.FontPixelSize, _HEADINGS[level][0])
    if was.fontFixedPitch():
        made.setForeground(QColor(colours.accent_ink))
    if was.isAnchor():
        made.setAnchor(True)
        made.setAnchorHref(was.anchorHref())
        made.setForeground(QColor(colours.accent_ink))
        made.setFontUnderline(True)
    return made


def _dress_table(frame: QTextFrame, colours: Palette) -> None:
    """As wide as the page, with a hairline under each row."""
    if not isinstance(frame, QTextTable):
        return
    shape = frame.format()
    shape.setWidth(QTextLength(QTextLength.Type.PercentageLength, 100.0))
    others = max(frame.columns() - 1, 1)
    widths = [_FIRST_COLUMN, *[(100.0 - _FIRST_COLUMN) / others] * others]
    shape.setColumnWidthConstraints(
        [QTextLength(QTextLength.Type.PercentageLength, width) for width in widths]
    )
    shape.setBorder(0.0)
    shape.setBorderCollapse(True)
    shape.setCellSpacing(0.0)
    shape.setCellPadding(4.0)
    shape.setTopMargin(4.0)
    shape.setBottomMargin(8.0)
    frame.setFormat(shape)
    for row in range(frame.rows()):
        for column in range(frame.columns()):
            cell = frame.cellAt(row, column)
            edge = cell.format().toTableCellFormat()
            edge.setBottomBorder(1.0)
            edge.setBottomBorderStyle(QTextFrameFormat.BorderStyle.BorderStyle_Solid)
            edge.setBottomBorderBrush(QColor(colours.hairline))
            cell.setFormat(edge)
