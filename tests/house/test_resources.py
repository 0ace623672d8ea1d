"""What is shipped may be shipped."""

from __future__ import annotations

import pytest

from tests.house.tree import ROOT, files_below, name_of

FONTS = [p for p in files_below("resources") if p.suffix in {".otf", ".ttf"}]


def test_there_are_fonts() -> None:
    """Off-screen Qt and bare machines have none of their own."""
    assert FONTS


@pytest.mark.parametrize("font", FONTS, ids=name_of)
def test_every_font_has_its_licence_beside_it(font) -> None:
    family = font.stem.split("-")[0]
    licences = [
        path
        for path in font.parent.glob(f"{family}*.txt")
        if "licen" in path.read_text(encoding="utf-8").lower()
    ]
    assert licences, f"no licence text {family}*.txt beside {font.name}"


def test_the_project_has_its_own() -> None:
    assert "MIT License" in (ROOT / "LICENSE").read_text(encoding="utf-8")
