"""Numbers need no window: all of `analysis` imports with Qt out of reach."""

from __future__ import annotations

import importlib.util
import subprocess
import sys

import pytest

from tests.house.tree import ROOT, files_below, name_of

IMPORT_WITHOUT_QT = """
import importlib, sys

REFUSED = ("PySide6", "shiboken6", "pyqtgraph", "PyQt5", "PyQt6", "app")

class NoWindow:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] in REFUSED:
            raise ImportError(f"{name} is refused here")

sys.meta_path.insert(0, NoWindow())
try:
    import PySide6
except ImportError:
    pass
else:
    sys.exit("the refusal does not work")
for module in sys.argv[1:]:
    importlib.import_module(module)
found = [name for name in sys.modules if name.split(".")[0] in REFUSED]
sys.exit(f"imported all the same: {found}" if found else 0)
"""


def modules_of(package: str) -> list[str]:
    names = [name_of(path)[:-3].replace("/", ".") for path in files_below(package, suffix=".py")]
    return [name.removesuffix(".__init__") for name in names]


def test_analysis_imports_with_qt_blocked() -> None:
    modules = modules_of("analysis")
    assert len(modules) > 30
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", IMPORT_WITHOUT_QT, *modules],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr


@pytest.mark.skipif(
    importlib.util.find_spec("importlinter") is None, reason="import-linter is not installed"
)
def test_import_contract() -> None:
    done = subprocess.run(
        [sys.executable, "-c", "from importlinter.cli import lint_imports_command as c; c()"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
