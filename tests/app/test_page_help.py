"""Help on the pages: there for each, true of nothing that is missing, and one key away."""

from __future__ import annotations

import re

import pytest
from PySide6.QtCore import Qt, QUrl
from PySide6.QtGui import QColor, QRawFont, QTextCursor, QTextDocument

from app.dialogs.help_text import help_markdown, write_help
from app.dialogs.page_help import PageHelp
from app.pages.registry import PAGES
from app.plots.palette import Theme, palette
from app.widgets.shortcuts import KEYS
from tests.house.tree import ROOT

KEYS_OF_PAGES = [entry.key for entry in PAGES]
MOST_WORDS = 800
"""Three minutes at the 240 to 270 words a minute of a grown reader (common practice)."""

LINK = re.compile(r"\[[^\]]+\]\(([^)]+)\)")
MARKDOWN_SIGNS = re.compile(r"\*\*|`|\]\(|^#+ |^\|.*\|$|\|\s*-{3}", re.MULTILINE)

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support")


def written(key: str, theme: Theme = Theme.LIGHT) -> QTextDocument:
    document = QTextDocument()
    write_help(document, help_markdown(key), theme)
    return document


def open_help(window) -> PageHelp:
    (dialog,) = (each for each in window.findChildren(PageHelp) if each.isVisible())
    return dialog


def test_every_page_has_its_help_and_no_help_is_left_over() -> None:
    there = {path.stem for path in (ROOT / "resources" / "help").glob("*.md")}
    assert there == set(KEYS_OF_PAGES)


@pytest.mark.parametrize("entry", PAGES, ids=lambda entry: entry.key)
def test_it_says_what_the_page_is_for(entry) -> None:
    text = help_markdown(entry.key)
    title, _, first, *_ = text.splitlines()
    assert title == f"# {entry.title}"
    assert first.startswith(f"**{entry.question}**")
    assert text.count("\n## Caution\n") == 1
    assert len(text.split()) <= MOST_WORDS


def test_links_lead_to_pages_that_exist() -> None:
    found = {(key, link) for key in KEYS_OF_PAGES for link in LINK.findall(help_markdown(key))}
    assert {key for key, _ in found} == set(KEYS_OF_PAGES)
    assert [pair for pair in found if pair[1] not in {f"{key}.md" for key in KEYS_OF_PAGES}] == []


def test_tables_of_standards_are_marked() -> None:
    """No paid standard could be read: each place that names one says where the figure is from."""
    marked = re.compile(r"from memory|read in open-source code|outside the standards|descriptions")
    bare = [
        (key, part)
        for key in KEYS_OF_PAGES
        for part in re.split(r"\n\n|\n(?=\|)", help_markdown(key))
        if re.search(r"\b(?:ISO|API|RP|NAMUR) \S*\d", part) and not marked.search(part)
    ]
    assert bare == []


@pytest.mark.parametrize("key", KEYS_OF_PAGES)
def test_no_sign_of_markdown_is_seen(qapp, key: str) -> None:
    shown = written(key).toPlainText()
    assert MARKDOWN_SIGNS.findall(help_markdown(key))
    assert MARKDOWN_SIGNS.findall(shown) == []


def test_every_sign_is_in_a_font_that_is_shipped(qapp) -> None:
    """Bare machines have no others: a box would stand in its place."""
    folder = ROOT / "resources" / "fonts"
    fonts = [QRawFont(str(path), 13.0) for path in folder.iterdir() if path.suffix != ".txt"]
    assert len(fonts) > 1
    signs = set("".join(map(help_markdown, KEYS_OF_PAGES))) - {"\n"}
    missing = [sign for sign in signs if not any(f.supportsCharacter(ord(sign)) for f in fonts)]
    assert missing == []
    assert not any(f.supportsCharacter(ord("\u4e00")) for f in fonts)


@pytest.mark.parametrize("theme", list(Theme))
@pytest.mark.parametrize("key", KEYS_OF_PAGES)
def test_every_letter_is_in_a_colour_of_the_theme(qapp, key: str, theme: Theme) -> None:
    document, colours = written(key, theme), palette(theme)
    allowed = {QColor(colours.ink).name(), QColor(colours.accent_ink).name()}
    cursor, seen = QTextCursor(document), set()
    for place in range(1, document.characterCount()):
        cursor.setPosition(place)
        if not cursor.atBlockStart():
            seen.add(cursor.charFormat().foreground().color().name())
    assert seen == allowed


def test_f1_opens_it_at_the_page_in_sight(qtbot, opened) -> None:
    opened.show_page("run")
    opened.activateWindow()
    qtbot.keyClick(opened, Qt.Key.Key_F1)
    dialog = open_help(opened)
    qtbot.waitUntil(lambda: heading(dialog) == "Run")
    assert not dialog.isModal()
    opened.show_page("alarms")
    opened.show_help()
    assert open_help(opened) is dialog
    qtbot.waitUntil(lambda: heading(dialog) == "Alarms")
    assert dialog.text.horizontalScrollBar().maximum() == 0

    dialog.text.anchorClicked.emit(QUrl("moment.md"))
    qtbot.waitUntil(lambda: heading(dialog) == "Moment")
    assert dialog.pages.value() == "moment"
    dialog.text.anchorClicked.emit(QUrl("https://example.invalid/run.md"))
    dialog.text.anchorClicked.emit(QUrl("../../README.md"))
    qtbot.wait(20)
    assert heading(dialog) == "Moment"

    bar = dialog.text.verticalScrollBar()
    bar.setValue(bar.maximum() // 2)
    opened.session.theme.set("dark")
    ink = QColor(palette(Theme.DARK).ink)
    qtbot.waitUntil(lambda: ink_of(dialog) == ink)
    assert bar.value() == bar.maximum() // 2
    qtbot.keyClick(dialog.text, Qt.Key.Key_Escape)
    assert not dialog.isVisible()


def heading(dialog: PageHelp) -> str:
    return dialog.text.document().firstBlock().text()


def ink_of(dialog: PageHelp) -> QColor:
    cursor = QTextCursor(dialog.text.document())
    cursor.setPosition(1)
    return cursor.charFormat().foreground().color()


def test_the_menu_has_it_above_the_keys(qtbot, window) -> None:
    texts = [action.text() for action in window.header.menu_button.menu().actions()]
    assert texts.index("About this page") == texts.index("Keys") - 1
    window.header.menu_button.menu().actions()[texts.index("About this page")].trigger()
    qtbot.waitUntil(lambda: heading(open_help(window)) == PAGES[0].title)


def test_the_keys_keep_their_own() -> None:
    held = {entry.action: entry.keys for entry in KEYS}
    assert held["about_page"] == ("F1",)
    assert held["help"] == ("?",)
