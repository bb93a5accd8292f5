"""What a part's fields may be given, read once when it is made: lengths with unit, points, counts, words; and
what a method may be asked, where it is decorated with `reads`.

The annotation is the rule. Every number is finite, but for the fields a class names in `ENDLESS`."""

from __future__ import annotations

import math
import numbers
from collections.abc import Callable
from dataclasses import fields
from functools import cache, wraps
from inspect import signature
from pathlib import Path
from types import NoneType, UnionType
from typing import Any, ParamSpec, TypeVar, Union, get_args, get_origin, get_type_hints

import numpy as np

from parts.base.units import length_mm

LONGEST_MM = 20_000.0  # no part of a car is longer: a slip of the pen, or another unit
_IN = {"deg": " in deg", "n": " in N", "kg": " in kg"}


def read_fields(part, title: str) -> None:
    """Turn every length of a part that is text with a unit into mm, and lists into tuples.

    A length is a field whose name ends in `_mm`, or a number of a point (a tuple). Raises ValueError naming
    the field, what it is and what is wanted, for anything else than its annotation says."""
    of: Any = type(part)
    for name, kind, plain in _rules(of):
        value = getattr(part, name)
        if type(value) is plain and _is_right(plain, kind, value):
            continue
        if name in getattr(part, "ENDLESS", ()) and value == math.inf:
            continue
        read = _read(f"{title}: {name}", name, kind, value)
        if read is not value:
            object.__setattr__(part, name, read)


def length(name: str, value: Any) -> float:
    """A length in mm, finite. Raises ValueError naming it."""
    return _number(name, f"{name}_mm", value)


def whole(name: str, value: Any) -> int:
    """A whole number. Raises ValueError naming it."""
    return _count(name, value)


def file_name(path: Any) -> Path:
    """Raises ValueError for what names no file."""
    if not isinstance(path, str | Path):
        raise ValueError(f"path is {_shown(path)}; it wants a file's name")
    return Path(path)


Args = ParamSpec("Args")
Out = TypeVar("Out")


def reads(function: Callable[Args, Out]) -> Callable[Args, Out]:
    """Read a function's arguments as a part's fields are read; an error names the argument."""
    takes = signature(function)
    named = {n for n, p in takes.parameters.items() if p.kind not in (p.VAR_POSITIONAL, p.VAR_KEYWORD)}
    rules: dict[str, tuple[Any, Any]] = {}

    @wraps(function)
    def read(*args: Args.args, **more: Args.kwargs) -> Out:
        if not rules:
            kinds = {n: k for n, k in get_type_hints(function).items() if n in named} or {"": Any}
            rules.update({n: (k, _plain(k)) for n, k in kinds.items()})
        given = takes.bind(*args, **more)
        for name, value in given.arguments.items():
            kind, plain = rules.get(name, (Any, None))
            if not (type(value) is plain and _is_right(plain, kind, value)):
                given.arguments[name] = _read(name, name, kind, value)
        return function(*given.args, **given.kwargs)

    return read


@cache
def _rules(of: Any) -> tuple[tuple[str, Any, Any], ...]:
    """Name, annotation, and the plain type that needs no second look, of every field."""
    kinds = get_type_hints(of)
    return tuple((f.name, kinds[f.name], _plain(kinds[f.name])) for f in fields(of) if f.init)


def _plain(kind: Any) -> Any:
    kinds = _kinds(kind)
    if len(kinds) > 1:
        return None
    (kind,) = kinds
    if get_origin(kind) is tuple and all(k is float for k in get_args(kind)):
        return tuple
    return kind if kind in (float, int, str, bool) else None


def _is_right(plain: Any, kind: Any, value: Any) -> bool:
    """Whether a value of the plain type needs no reading."""
    if plain is tuple:
        count = len(get_args(kind))
        return len(value) == count and all(type(v) is float and abs(v) <= LONGEST_MM for v in value)
    return plain is not float or abs(value) <= LONGEST_MM


def _read(what: str, name: str, kind: Any, value: Any) -> Any:
    if kind is Any:
        return value
    if value is None and NoneType in get_args(kind):
        return None
    kinds = _kinds(kind)
    if len(kinds) > 1:
        if not isinstance(value, kinds):
            wants = " or ".join(_a(k.__name__) for k in kinds)
            raise ValueError(f"{what} is {_shown(value)}; it wants {wants}")
        return value
    (kind,) = kinds
    if get_origin(kind) is tuple:
        return _row(what, name, get_args(kind), value)
    if kind is float:
        return _number(what, name, value)
    if kind is int:
        return _count(what, value)
    if kind is bool and isinstance(value, np.bool_):
        return bool(value)
    kind = get_origin(kind) or kind
    if not isinstance(value, kind):
        wants = {bool: "True or False", str: "a text"}.get(kind, _a(kind.__name__))
        raise ValueError(f"{what} is {_shown(value)}; it wants {wants}")
    return value


def _kinds(kind: Any) -> tuple[Any, ...]:
    """The one annotation, or those of a union; None left out."""
    if get_origin(kind) not in (Union, UnionType):
        return (kind,)
    return tuple(k for k in get_args(kind) if k is not NoneType)


def _number(what: str, name: str, value: Any) -> float:
    if name.endswith("_mm"):
        if isinstance(value, numbers.Real) and not isinstance(value, bool | int | float):
            value = float(value)
        try:
            read = length_mm(value)
        except ValueError as e:
            raise ValueError(f"{what} {e}") from None
        if not abs(read) <= LONGEST_MM:
            raise ValueError(f"{what} is {read:g} mm; the most is {LONGEST_MM:g}")
        return value if isinstance(value, int | float) else read
    if isinstance(value, bool) or not isinstance(value, numbers.Real):
        unit = _IN.get(name.rsplit("_", 1)[-1], "")
        raise ValueError(f"{what} is {_shown(value)}; it wants a number{unit}")
    if not math.isfinite(value):
        raise ValueError(f"{what} is {value}; it must be a finite number")
    return value if isinstance(value, int | float) else float(value)


def _count(what: str, value: Any) -> int:
    whole = isinstance(value, numbers.Real) and not isinstance(value, bool) and value == value // 1
    if not whole:  # of nan and the infinite it is none either
        raise ValueError(f"{what} is {_shown(value)}; it wants a whole number")
    return int(value)  # pyrefly: ignore[bad-argument-type]  # numpy's whole numbers are of that kind too


def _row(what: str, name: str, kinds: tuple[Any, ...], value: Any) -> tuple:
    """A tuple: so many numbers (a point, in mm), or any count of one kind."""
    numbers_only = all(k is float for k in kinds)
    if not isinstance(value, tuple | list | np.ndarray):
        like = {2: "a point, such as (92, 0), in mm", 3: "a point, such as (92, 0, 40), in mm"}
        wants = like[len(kinds)] if numbers_only and len(kinds) in like else "a list in brackets"
        raise ValueError(f"{what} is {_shown(value)}; it wants {wants}")
    if kinds[-1] is Ellipsis:
        kinds = kinds[:1] * len(value)
    if len(value) != len(kinds):
        raise ValueError(f"{what} is {_shown(value)}, {len(value)} long; it wants {len(kinds)} values")
    inner = f"{name}_mm" if numbers_only else name
    read = tuple(
        _read(f"{what}[{i}]", inner, k, v) for i, (k, v) in enumerate(zip(kinds, value, strict=True))
    )
    if isinstance(value, tuple) and all(a is b for a, b in zip(read, value, strict=True)):
        return value
    return read


def _shown(value: Any) -> str:
    text = repr(value)
    return text if len(text) < 60 else f"{_a(type(value).__name__)}"


def _a(name: str) -> str:
    return f"an {name}" if name[0] in "AEIOU" else f"a {name}"
