"""`dataclass` as the standard library's, at a quarter of its price: a check loads 180 frozen classes, and the
library compiles six methods for each.

Here only `__init__` is compiled, and that where it is first asked for: a third of the classes a check loads
it makes nothing of. A frozen class's `__eq__` and `__hash__` take its fields by one `operator.attrgetter`;
the refusal to be changed is one function for all. What is not frozen is the library's own.
"""

from __future__ import annotations

import dataclasses
import sys
from collections.abc import Callable
from dataclasses import MISSING, Field, FrozenInstanceError, fields
from operator import attrgetter
from reprlib import recursive_repr
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from dataclasses import dataclass as dataclass
else:

    def dataclass(cls=None, /, *, frozen=False, eq=True, repr=True):
        """The library's decorator, of its options those used here."""
        if not frozen:
            return dataclasses.dataclass(cls, eq=eq, repr=repr)
        return _frozen(cls, eq, repr) if cls else lambda named: _frozen(named, eq, repr)


def _frozen(cls: type, eq: bool, repr: bool) -> type:
    said, cls.__doc__ = cls.__doc__, cls.__name__  # else the library words one: as long as a method
    dataclasses.dataclass(cls, init=False, repr=False, eq=False)  # finds the fields, compiles nothing
    cls.__doc__ = said
    found = fields(cls)
    if ours := [f.name for f in found if not f.init]:
        raise TypeError(f"{cls.__name__}.{ours[0]}: a frozen class takes every field")
    methods: dict[str, Any] = {"__init__": _Init(cls)}
    if repr:
        methods["__repr__"] = _shown([f.name for f in found if f.repr])
    if eq:
        methods |= _comparing([f.name for f in found if f.compare])
    own = vars(cls)
    for name, method in methods.items():
        if own.get(name) is None:  # what the class says itself stays
            setattr(cls, name, method)
    cls.__setattr__, cls.__delattr__ = _unset, _undeleted  # pyrefly: ignore[bad-assignment]
    return cls


class _Init:
    """`__init__` of a class until it is first asked for: then it is compiled and takes this one's place."""

    def __init__(self, of: type):
        self.of = of

    def __get__(self, made: Any, kind: type) -> Callable:
        init = self.of.__init__ = _init(self.of, fields(self.of))
        return init.__get__(made, kind)


def _init(cls: type, found: tuple[Field, ...]) -> Callable:
    given: dict[str, Any] = {"_factory": _FACTORY}
    said, body = ["self"], []
    for f in sorted(found, key=lambda f: bool(f.kw_only)):
        if f.kw_only and "*" not in said:
            said.append("*")
        value = f.name
        if f.default is not MISSING:
            given[f"_default_{f.name}"] = f.default
        elif f.default_factory is not MISSING:
            given |= {f"_new_{f.name}": f.default_factory, f"_default_{f.name}": _FACTORY}
            value = f"_new_{f.name}() if {f.name} is _factory else {f.name}"
        said.append(f"{f.name}=_default_{f.name}" if f"_default_{f.name}" in given else f.name)
        body.append(f"{f.name}={value}")
    lines = f"self.__dict__.update({', '.join(body)})"
    lines += "; self.__post_init__()" if hasattr(cls, "__post_init__") else ""
    text = f"def make({', '.join(given)}):\n def __init__({', '.join(said)}):\n  {lines}\n return __init__"
    outer: dict[str, Any] = {}
    exec(text, vars(sys.modules[cls.__module__]), outer)  # the module's own names: its types are read there
    made = outer["make"](**given)
    made.__qualname__ = f"{cls.__qualname__}.__init__"
    made.__annotations__ = {f.name: f.type for f in found} | {"return": None}
    return made


class _Factory:
    def __repr__(self) -> str:
        return "<factory>"


_FACTORY = _Factory()


def _comparing(names: list[str]) -> dict[str, Callable]:
    get = attrgetter(*names) if names else lambda _: ()
    content = get if len(names) != 1 else lambda one: (get(one),)

    def __eq__(self, other):
        return content(self) == content(other) if other.__class__ is self.__class__ else NotImplemented

    def __hash__(self):
        return hash(content(self))

    return {"__eq__": __eq__, "__hash__": __hash__}


def _shown(names: list[str]) -> Callable:
    @recursive_repr()
    def __repr__(self):
        return f"{type(self).__qualname__}({', '.join([f'{n}={getattr(self, n)!r}' for n in names])})"

    return __repr__


def _unset(self: Any, name: str, value: Any) -> None:
    raise FrozenInstanceError(f"cannot assign to field {name!r}")


def _undeleted(self: Any, name: str) -> None:
    raise FrozenInstanceError(f"cannot delete field {name!r}")
