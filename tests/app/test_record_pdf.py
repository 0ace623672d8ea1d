"""The PDF of a record: every piece whole on its page, nothing past an edge, pages counted."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtGui import QImage, QPageSize, QPdfWriter, QTextDocument, QTextTable

from analysis.files.record_file import read_record
from analysis.model.errors import InputError
from analysis.model.record import CheckRecord, Verdict
from app.reports import record_pdf
from app.reports.record_html import outcome_of, record_pieces
from app.reports.record_pdf import lay_pages, write_check, write_record_pdf
from tests.analysis.check_record import full_record

pytestmark = pytest.mark.usefixtures("qapp")
ROUNDING = 1.0


@pytest.fixture
def writer(tmp_path: Path) -> QPdfWriter:
    made = QPdfWriter(str(tmp_path / "paper.pdf"))
    made.setPageSize(QPageSize(QPageSize.PageSizeId.A4))
    made.setResolution(300)
    return made


def room_of(writer: QPdfWriter) -> float:
    return writer.height() - 2.0 * record_pdf._dots(record_pdf._EDGE_MM)


def texts(pages: record_pdf.Pages) -> list[str]:
    return [" ".join(placed.document.toPlainText() for placed in page) for page in pages]


def column_starts(document: QTextDocument) -> list[float]:
    (table,) = [f for f in document.rootFrame().childFrames() if isinstance(f, QTextTable)]
    layout = document.documentLayout()
    cells = (table.cellAt(0, column) for column in range(table.columns()))
    return [layout.blockBoundingRect(cell.firstCursorPosition().block()).left() for cell in cells]


class TestLayout:
    @pytest.mark.parametrize("steps", [0, 1, 6, 13, 30, 90])
    def test_everything_lies_inside_its_page(self, writer: QPdfWriter, steps: int) -> None:
        pages = lay_pages(full_record(steps), writer)
        for page in pages:
            bottom = 0.0
            for placed in page:
                assert placed.top >= bottom - ROUNDING
                bottom = placed.top + placed.height
                assert bottom <= room_of(writer) + ROUNDING
                assert placed.document.size().width() <= writer.width() + ROUNDING

    def test_every_step_once_and_in_order(self, writer: QPdfWriter) -> None:
        pages = lay_pages(full_record(30), writer)
        assert len(pages) >= 3
        said = " ".join(texts(pages))
        found = [int(n) for n in re.findall(r"\bstep (\d+)", said)]
        assert found == list(range(1, 31))

    def test_heads_are_repeated_where_a_table_goes_on(self, writer: QPdfWriter) -> None:
        pages = lay_pages(full_record(60), writer)
        for page in pages[1:]:
            first = page[0].document.toPlainText()
            if "step" in page[1].document.toPlainText():
                assert "Expected" in first

    def test_no_heading_alone_at_the_foot(self, writer: QPdfWriter) -> None:
        headings = {"Result", "Signatures", "Remarks", "Steps, as found", "Instruments used"}
        for steps in range(4, 24):
            for page in lay_pages(full_record(steps), writer):
                assert page[-1].document.toPlainText().strip() not in headings
                assert not page[-1].document.toPlainText().startswith("\ufffcRole")

    def test_signatures_stay_together(self, writer: QPdfWriter) -> None:
        for steps in range(4, 24):
            (page,) = [t for t in texts(lay_pages(full_record(steps), writer)) if "Signatures" in t]
            assert "Done by" in page
            assert "Owner" in page

    def test_a_text_longer_than_a_page_goes_over_several(self, writer: QPdfWriter) -> None:
        lines = "\n".join(f"line {n}" for n in range(380))
        pages = lay_pages(CheckRecord(kind="loop_check", title="t", remarks=lines), writer)
        assert len(pages) > 3
        for page in pages:
            for placed in page:
                assert placed.top + placed.height <= room_of(writer) + ROUNDING
        long = pages[2][0].document
        # No line of it lies across the end of a page.
        block, height = long.begin(), long.pageSize().height()
        seen = 0
        while block.isValid():
            rect = long.documentLayout().blockBoundingRect(block)
            for n in range(block.layout().lineCount()):
                line = block.layout().lineAt(n)
                top = rect.top() + line.y()
                assert int(top // height) == int((top + line.height() - ROUNDING) // height)
                seen += 1
            block = block.next()
        assert seen == 380

    def test_a_word_without_spaces_stays_in_its_column(self, writer: QPdfWriter) -> None:
        record = full_record(1).model_copy(update={"made_by": "W" * 300, "title": "V" * 300})
        for page in lay_pages(record, writer):
            for placed in page:
                assert placed.document.size().width() <= writer.width() + ROUNDING

    def test_long_words_leave_the_columns_where_they_are(self, writer: QPdfWriter) -> None:
        """Each row is a table of its own: its columns begin where those of its heads do."""
        pieces = [piece for piece in record_pieces(full_record(3)) if piece.head]
        seen = 0
        for piece in pieces:
            head, row = (
                record_pdf._document(html, writer, room_of(writer))
                for html in (piece.head, piece.html)
            )
            assert column_starts(row) == pytest.approx(column_starts(head), abs=3.0)
            seen += "88888" in row.toPlainText()
        assert seen == 1

    def test_text_is_text(self, writer: QPdfWriter) -> None:
        record = CheckRecord(kind="loop_check", title="<b>bold?</b> & <img src='x'>")
        assert "<b>bold?</b>" in texts(lay_pages(record, writer))[0]
        assert not any("<img" in piece.html for piece in record_pieces(record))


class TestFile:
    def test_it_is_a_pdf_with_that_many_pages(self, tmp_path: Path) -> None:
        path = tmp_path / "check.pdf"
        pages = write_record_pdf(full_record(30), path)
        raw = path.read_bytes()
        assert raw.startswith(b"%PDF-")
        assert len(re.findall(rb"/Type\s*/Page\b", raw)) == pages >= 3
        # A4 in points.
        assert re.search(rb"/MediaBox\s*\[\s*0 0 59[45](\.\d+)? 84[12]", raw)

    def test_the_toml_lies_beside_it(self, tmp_path: Path) -> None:
        pdf, toml = write_check(full_record(2), tmp_path / "check.pdf")
        assert (pdf.name, toml.name) == ("check.pdf", "check.toml")
        assert read_record(toml) == full_record(2)
        assert sorted(each.name for each in tmp_path.iterdir()) == ["check.pdf", "check.toml"]

    def test_no_folder(self, tmp_path: Path) -> None:
        with pytest.raises(InputError, match="no folder"):
            write_record_pdf(full_record(1), tmp_path / "none" / "check.pdf")

    @pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="pdftoppm is not installed")
    def test_the_edges_of_the_paper_are_blank(self, tmp_path: Path) -> None:
        path = tmp_path / "check.pdf"
        pages = write_record_pdf(full_record(30), path)
        subprocess.run(
            ["pdftoppm", "-r", "72", "-png", str(path), str(tmp_path / "page")],
            check=True,
            timeout=60,
        )
        pictures = sorted(tmp_path.glob("page*.png"))
        assert len(pictures) == pages
        for picture in pictures:
            image = QImage(str(picture)).convertToFormat(QImage.Format.Format_Grayscale8)
            rows = np.frombuffer(image.constBits(), np.uint8)
            grey = rows.reshape(image.height(), image.bytesPerLine())[:, : image.width()]
            edge = 36  # points, 12.7 mm: less than the margins
            assert grey[:edge].min() > 250
            assert grey[-edge:].min() > 250
            assert grey[:, :edge].min() > 250
            assert grey[:, -edge:].min() > 250
            assert grey[edge:-edge, edge:-edge].min() < 100


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="pdftotext is not installed")
def test_words_and_figures_can_be_searched(tmp_path: Path) -> None:
    path = tmp_path / "check.pdf"
    write_record_pdf(full_record(6), path)
    done = subprocess.run(
        ["pdftotext", "-layout", str(path), "-"], capture_output=True, check=True, timeout=60
    )
    said = done.stdout.decode("utf-8")
    for words in ("131.2 µm", "14.50 mA", "2026-02-24 10:05", "P-204", "(1033 mV", "21.5 °C"):
        assert words in said.replace("\u00a0", " ").replace("\u2011", "-"), words


@pytest.mark.parametrize(
    ("results", "whole"),
    [
        (["pass", "pass"], "pass"),
        (["pass", "fail", "not done"], "fail"),
        (["pass", "not done"], "not done"),
        (["information", "pass"], "pass"),
        ([], "not done"),
    ],
)
def test_the_whole(results: list[str], whole: str) -> None:
    verdicts = tuple(Verdict(text="x", result=result, basis="y") for result in results)
    assert outcome_of(CheckRecord(kind="loop_check", title="t", verdict=verdicts)) == whole
