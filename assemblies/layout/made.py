"""What a study makes once: a corner that is laid out again with another value makes anew only what that value
touches, in this process or the next.

Everything is found by a digest of every number and word it was made of (`remembered.content`): 0.0 and -0.0,
1 and True are told apart; what cannot be named whole is made each time.
"""

from __future__ import annotations

import pickle
from collections.abc import Callable, Mapping, Sequence
from operator import attrgetter
from typing import Any, TypeVar

from parts.files.remembered import UNREADABLE, Unnamed, content, read

Part = TypeVar("Part")


class Made:
    """What functions gave for these very values, which whoever gets it leaves as it is; what was refused is
    asked for again. `kept`: what `body` of another process's gave, by name."""

    def __init__(self, kept: Mapping[str, bytes] | None = None) -> None:
        self._known: dict[str, Any] = {}
        self._kept = dict(kept or {})

    @property
    def new(self) -> bool:
        """Whether anything was made that is not kept."""
        return bool(self._known.keys() - self._kept.keys())

    def __call__(self, make: Callable[..., Part], *of: Any, **named: Any) -> Part:
        """`make(*of, **named)`."""
        whose = getattr(make, "__self__", None)  # a method's
        what = f"{make.__module__}.{make.__qualname__}"
        given = None if isinstance(whose, type) else whose, of, tuple(sorted(named.items()))
        return self.once(what, given, lambda: make(*of, **named))

    def once(self, what: str, given: object, make: Callable[[], Part]) -> Part:
        """What `make` makes of `given` alone; `what` it is tells makers of the same input apart."""
        try:
            name = content((what, given))
        except Unnamed:
            return make()
        if not self._finds(name):
            self._known[name] = make()
        return self._known[name]

    def each(
        self, what: str, given: Sequence[object], make: Callable[[list[int]], Sequence[Part]]
    ) -> list[Part]:
        """What is made of each of `given` alone: `make` makes those of some places, that are not known."""
        names = [content((what, g)) for g in given]
        new = [k for k, name in enumerate(names) if not self._finds(name)]
        if new:
            self._known.update(zip([names[k] for k in new], make(new), strict=True))
        return [self._known[name] for name in names]

    def noting(self, what: str, given: object, of: Sequence[Any], make: Callable[..., Part]) -> Part:
        """What `make(*of)` makes of `given` and of those values of `of` that it asks for: they are noted as
        it asks, and while they stay, so does what it made. The last of each `what` is known."""
        if self._finds(what):
            names, digest, value = self._known[what]
            if digest == _digest(given, of, names):
                return value
        noted = [Watched(x) for x in of]
        value = make(*noted)
        names = [n.asked() for n in noted]
        if digest := _digest(given, of, names):
            self._kept.pop(what, None)
            self._known[what] = names, digest, value
        return value

    def _finds(self, name: str) -> bool:
        if name not in self._known and name in self._kept:
            try:
                self._known[name] = read(self._kept[name])
            except UNREADABLE:  # of another make: made again
                del self._kept[name]
        return name in self._known

    def body(self) -> dict[str, bytes]:
        """All that this one made or was asked for, to be kept."""
        out = {}
        for name, value in self._known.items():
            if name in self._kept:
                out[name] = self._kept[name]
            else:
                try:
                    out[name] = pickle.dumps(value, protocol=4)
                except (pickle.PicklingError, AttributeError, TypeError):  # it holds a function
                    continue
        return out


class Watched:
    """A thing that notes which of its values are asked for, of a table of a job which of the table's."""

    def __init__(self, of: Any) -> None:
        self._of, self._names, self._values = of, set[str](), dict[str, Any]()

    def __getattr__(self, name: str) -> Any:
        self._names.add(name)  # even where there is none
        if name not in self._values:
            value = getattr(self._of, name)
            self._values[name] = Watched(value) if hasattr(type(value), "model_fields") else value
        return self._values[name]

    @property
    def __class__(self) -> type:
        """As `isinstance` asks; `asked` has it of every table."""
        return type(self._of)

    def asked(self) -> list[str]:
        """The names of all that was asked for, "corner.side", and which kind of table each was."""
        out = []
        for name in self._names:
            value = self._values.get(name)
            if type(value) is Watched:
                out += [f"{name}.{n}" for n in ("__class__.__qualname__", *value.asked())]
            else:
                out.append(name)
        return sorted(out)


def _digest(given: object, of: Sequence[Any], names: Sequence[Sequence[str]]) -> str | None:
    """Of all that an answer was made of; None where it cannot be named whole."""
    try:
        return content((given, [[_value(x, n) for n in own] for x, own in zip(of, names, strict=True)]))
    except Exception:  # what cannot be named, or is refused
        return None


def _value(x: Any, name: str) -> tuple[Any, ...]:
    try:
        return (attrgetter(name)(x),)
    except AttributeError:  # there was none, either
        return ()
