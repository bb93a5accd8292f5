"""The sources of `parts` and `assemblies` as trees, each parsed once in a process."""

import ast
from functools import cache
from pathlib import Path


@cache
def tree(file: Path) -> ast.Module:
    return ast.parse(file.read_text(encoding="utf-8"))


@cache
def nodes(file: Path) -> list[ast.AST]:
    """All of a file's tree."""
    return list(ast.walk(tree(file)))
