"""The examples in the docstrings are run as written."""

import doctest
import importlib
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
WITH_EXAMPLES = [
    ".".join(file.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
    for folder in ("parts", "assemblies")
    for file in sorted((ROOT / folder).rglob("*.py"))
    if ">>> " in file.read_text(encoding="utf-8")
]


@pytest.mark.parametrize("name", WITH_EXAMPLES)
def test_docstring_examples(name):
    failed, tried = doctest.testmod(importlib.import_module(name))
    assert tried and not failed
