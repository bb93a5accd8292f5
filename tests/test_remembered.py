"""What is kept between runs by content: nothing stale, nothing broken, nothing that runs."""

import os
import pickle
import zlib
from dataclasses import dataclass, replace

import numpy as np
import pytest

from parts.files import cache, remembered
from parts.files.remembered import Unnamed, content, once
from parts.shape.form import Form, Frame, Round
from parts.shape.outline import Hole, Outline, rectangle


@pytest.fixture(autouse=True)
def own_cache(tmp_path, monkeypatch):
    monkeypatch.setenv("ROCKERSHED_CACHE", str(tmp_path))
    return tmp_path


GIVEN = (
    Outline(rectangle(0, 0, 40, 20), holes=(Hole(5, 5, 6, "pin", "reamed"),)),
    {"a": [1, 2.0, None, True], "b": frozenset({"x", "y"})},
    Form((Round(30.0, 100.0, 26.0, Frame((1.0, 2.0, 3.0))),)),
    np.array([[1.0, 2.0]]),
)


def _changed():
    """Each with one thing in it another."""
    outline, table, form, array = GIVEN
    hole = outline.holes[0]
    yield replace(outline, holes=(replace(hole, fit="jig"),)), table, form, array
    yield replace(outline, holes=(replace(hole, x=np.nextafter(hole.x, 9)),)), table, form, array
    yield outline, {"a": [1, 2.0, None, 1], "b": table["b"]}, form, array
    yield outline, {"a": [1, 2, None, True], "b": table["b"]}, form, array
    yield outline, {"b": table["b"], "a": table["a"]}, form, array
    yield outline, {"a": [1, 2.0, None, True], "b": frozenset({"xy"})}, form, array
    yield outline, table, Form((replace(form.pieces[0], bore_mm=26.5),)), array
    yield outline, table, form, np.array([[1.0, -2.0]])
    yield outline, table, form, np.array([1.0, 2.0])
    yield outline, table, form, np.array([[1, 2]])
    yield outline, table, form


def test_every_number_and_word_goes_into_the_name():
    names = [content(g) for g in (GIVEN, *_changed())]
    assert len(set(names)) == len(names)
    assert content(GIVEN) == content(pickle.loads(pickle.dumps(GIVEN))), "the same content has the same name"
    assert content(("a|b", "c")) != content(("a", "b|c"))


def test_a_value_is_made_once_and_again_where_input_tool_or_file_is_another(own_cache, monkeypatch):
    made = []

    def make(of):
        made.append(of)
        return replace(GIVEN[2], volume_mm3=float(len(of))), np.arange(3)

    def ask(of):
        value, numbers = once("try", of, lambda: make(of))
        assert (
            value.volume_mm3 == len(of) and value.pieces == GIVEN[2].pieces and numbers.tolist() == [0, 1, 2]
        )

    ask("one"), ask("one"), ask("two")
    assert made == ["one", "two"]
    once("another maker", "one", lambda: made.append("other"))
    assert made.pop() == "other"
    file = max(own_cache.glob("*.value"), key=lambda p: p.stat().st_size)
    for break_ in (lambda b: b[:-1] + bytes([b[-1] ^ 1]), lambda b: b[: len(b) // 2], lambda b: b""):
        kept = {p: p.read_bytes() for p in own_cache.glob("*.value")}
        for path, body in kept.items():
            path.write_bytes(break_(body))
        ask("one"), ask("two")
        assert made == ["one", "two", "one", "two"], f"a broken {file.name} was used"
        del made[2:]
    monkeypatch.setattr(cache, "tool", lambda: "a newer version")
    ask("one")
    assert made == ["one", "two", "one"]


def test_what_cannot_be_named_whole_is_never_kept(own_cache):
    @dataclass
    class Foreign:
        x: int = 1

    for given in (Foreign(), lambda: 1, object(), np.array([object()], object)):
        with pytest.raises(Unnamed):
            content(given)
        assert [once("x", given, lambda n=n: n) for n in (1, 2)] == [1, 2]
    assert not list(own_cache.iterdir())


def test_a_file_that_would_run_something_is_not_read(own_cache):
    class Runs:
        def __reduce__(self):
            return os.mkdir, (str(own_cache / "ran"),)

    class Ours:
        def __reduce__(self):
            return remembered.once, ("x", 1, int)

    for bad in (Runs(), Ours()):
        name = cache.key("x", content(1))
        cache.keep(name, "value", zlib.compress(pickle.dumps(bad)))
        assert once("x", 1, lambda: "made") == "made"
    assert not (own_cache / "ran").exists()
