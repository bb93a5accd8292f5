"""The examples in the docstrings of parts/ are run as written."""
import doctest
import importlib
import pkgutil

import pytest

import parts


@pytest.mark.parametrize("name", [m.name for m in pkgutil.iter_modules(parts.__path__) if m.name != "solid"])
def test_docstring_examples(name):
    failed, _ = doctest.testmod(importlib.import_module(f"parts.{name}"))
    assert failed == 0
