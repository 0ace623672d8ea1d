"""What grows without end in programs of this kind is stopped early: files and functions."""

from __future__ import annotations

import ast

from tests.house.tree import ROOT, files_below, name_of

MOST_LINES_OF_A_MODULE = 400
MOST_LINES_OF_A_FUNCTION = 60
MOST_BYTES_OF_SAMPLES = 12 * 2**20

Function = ast.FunctionDef | ast.AsyncFunctionDef


def test_modules_stay_short() -> None:
    long = {
        name_of(path): lines
        for path in files_below("app", "analysis", "tests", ".ci", suffix=".py")
        if (lines := len(path.read_text(encoding="utf-8").splitlines())) > MOST_LINES_OF_A_MODULE
    }
    assert long == {}


def code_lines(function: Function) -> int:
    """Lines of a function without its docstring, which may be as long as it needs."""
    total = (function.end_lineno or function.lineno) - function.lineno + 1
    first = function.body[0]
    is_docstring = (
        isinstance(first, ast.Expr)
        and isinstance(first.value, ast.Constant)
        and isinstance(first.value.value, str)
    )
    if is_docstring:
        total -= (first.end_lineno or first.lineno) - first.lineno + 1
    return total


def test_functions_stay_short() -> None:
    long = {
        f"{name_of(path)}:{node.lineno} {node.name}": code_lines(node)
        for path in files_below("app", "analysis", suffix=".py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, Function) and code_lines(node) > MOST_LINES_OF_A_FUNCTION
    }
    assert long == {}


def test_samples_stay_small() -> None:
    sizes = {name_of(path): path.stat().st_size for path in files_below("sample_data")}
    assert sum(sizes.values()) < MOST_BYTES_OF_SAMPLES, sizes


def test_the_gate_looks_at_the_house() -> None:
    assert (ROOT / "pyproject.toml").is_file()
    assert len(list(files_below("analysis", suffix=".py"))) > 30
