"""Whatever `analysis` offers says what it is."""

from __future__ import annotations

import ast
from collections.abc import Iterator

from tests.house.tree import files_below, name_of

Documented = ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef


def public(body: list[ast.stmt], prefix: str) -> Iterator[tuple[str, Documented]]:
    for node in body:
        if isinstance(node, Documented) and not node.name.startswith("_"):
            yield f"{prefix}.{node.name}", node
            if isinstance(node, ast.ClassDef):
                yield from public(node.body, f"{prefix}.{node.name}")


def test_public_names_have_docstrings() -> None:
    bare, seen = [], 0
    for path in files_below("analysis", suffix=".py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        module = name_of(path)
        if ast.get_docstring(tree) is None:
            bare.append(module)
        for name, node in public(tree.body, module):
            seen += 1
            if ast.get_docstring(node) is None:
                bare.append(name)
    assert seen > 100
    assert bare == []
