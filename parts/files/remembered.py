"""What is slow to work out, worked out once: a value under a name made of everything that goes into it.

    sheet = once("template", (blank, lettering()), lambda: draw(blank))

The name is a digest of each field of what is given (`content`), of this tool's every file and of every
library's version (`cache.key`): what is found under it is what would be made again. What cannot be named
whole is never kept, only made. A kept value is read back as dataclasses of this project, numbers, words and
arrays, and as nothing else: no file in the folder can make the reader run code.
"""

from __future__ import annotations

import enum
import hashlib
import io
import pickle
import zlib
from collections.abc import Callable
from contextlib import suppress
from dataclasses import fields, is_dataclass
from functools import cache
from typing import Any, TypeVar

import numpy as np

from parts.files.cache import cache_folder, keep, kept, key

Value = TypeVar("Value")
OURS = ("assemblies.", "parts.")
ARRAYS = ("_reconstruct", "ndarray", "dtype", "scalar", "_frombuffer")
UNREADABLE = (pickle.UnpicklingError, zlib.error, AttributeError, ImportError, EOFError)  # of another make
PLAIN = ("set", "frozenset", "complex", "slice", "range")


class Unnamed(TypeError):
    """Something given whose content cannot be told whole."""


def once(
    what: str, given: object, make: Callable[[], Value], sound: Callable[[Value], bool] = lambda _: True
) -> Value:
    """What `make` makes of `given` alone, as kept where it was made before. `what` it is tells makers of the
    same input apart; what is not `sound` is never kept."""
    if cache_folder() is None:
        return make()
    try:
        name = key(what, content(given))
    except Unnamed:
        return make()
    body = kept(name, "value")
    if body is not None:
        with suppress(*UNREADABLE):
            return read(zlib.decompress(body))
    made = make()
    if sound(made):
        keep(name, "value", zlib.compress(pickle.dumps(made, protocol=4), 1))
    return made


def read(body: bytes) -> Any:
    """A value as it was pickled, of what `_Reader` allows. Raises one of `UNREADABLE`."""
    return _Reader(io.BytesIO(body)).load()


def content(given: object) -> str:
    """A digest of every number and word in it, field by field. Raises Unnamed for what it does not know."""
    said: list[str] = []
    _say(given, said.append)
    return hashlib.sha256("|".join(said).encode("utf-8", "surrogatepass")).hexdigest()


def _say(x: Any, say: Callable[[str], None]) -> None:
    kind: Any = type(x)
    if kind is float or kind is int or kind is bool or x is None:
        say(repr(x))
    elif kind is str or kind is bytes:
        say(f"{len(x)}{x!r}")
    elif kind is tuple or kind is list:
        say(f"{kind.__name__}{len(x)}")
        for v in x:
            _say(v, say)
    elif kind is dict:
        say(f"dict{len(x)}")
        for k, v in x.items():
            _say(k, say)
            _say(v, say)
    elif kind is set or kind is frozenset:
        say(f"{kind.__name__}{len(x)}")
        for digest in sorted(content(v) for v in x):
            say(digest)
    elif kind is np.ndarray and x.dtype != object:
        say(f"{x.dtype.str}{x.shape}{hashlib.sha256(np.ascontiguousarray(x).tobytes()).hexdigest()}")
    elif isinstance(x, np.generic):
        say(f"{x.dtype.str}{x!r}")
    elif (names := _fields(kind)) is not None:
        say(f"{kind.__module__}.{kind.__qualname__}")
        for name in names:
            _say(getattr(x, name), say)
    elif isinstance(x, enum.Enum):
        say(f"{kind.__module__}.{x}")
    elif hasattr(kind, "model_fields"):  # a pydantic model: every field it has
        if x.model_extra:
            raise Unnamed(f"{kind.__qualname__} with fields of its own")
        say(f"{kind.__module__}.{kind.__qualname__}{len(kind.model_fields)}")
        for name in kind.model_fields:
            _say(getattr(x, name), say)
    elif kind.__module__.startswith(OURS):
        _say_ours(x, kind, say)
    else:
        raise Unnamed(f"{kind.__module__}.{kind.__qualname__}")


@cache
def _fields(kind: type) -> tuple[str, ...] | None:
    """Of a dataclass of this project; None of any other class."""
    ours = is_dataclass(kind) and kind.__module__.startswith(OURS)
    return tuple(f.name for f in fields(kind)) if ours else None


def _say_ours(x: Any, kind: type, say: Callable[[str], None]) -> None:
    """What is no dataclass: a tuple with names, or one that says more; an object whose all is in its dict."""
    say(f"{kind.__module__}.{kind.__qualname__}")
    if isinstance(x, tuple):
        _say(tuple(x), say)
        _say(getattr(x, "__dict__", None), say)
    elif _all_in_dict(kind):
        _say(vars(x), say)
    else:
        raise Unnamed(f"{kind.__module__}.{kind.__qualname__}")


def _all_in_dict(kind: type) -> bool:
    """Whether what an instance holds is all in its `__dict__`."""
    own = [c for c in kind.__mro__ if c is not object]
    return all(c.__module__.startswith(OURS) and "__slots__" not in vars(c) for c in own)


class _Reader(pickle.Unpickler):
    """Reads plain values, arrays and this project's own classes."""

    def find_class(self, module: str, name: str) -> Any:
        plain = module == "builtins" and name in PLAIN
        array = module.partition(".")[0] == "numpy" and name in ARRAYS
        found = super().find_class(module, name) if plain or array or module.startswith(OURS) else None
        ours = isinstance(found, type) and found.__module__ == module and "." not in name
        if not (plain or array or ours):
            raise pickle.UnpicklingError(f"{module}.{name} is nothing that is kept")
        return found
