"""What a study makes once: a corner that is laid out again with another value makes anew only what that value
touches, in this process or the next.

Everything is found by a digest of every number and word it was made of (`remembered.content`): 0.0 and -0.0,
1 and True are told apart; what cannot be named whole is made each time. So it is no matter for which job it
was made: the studies of one process share it, where anything is kept at all (`cache.cache_folder`).
"""

from __future__ import annotations

import pickle
from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from operator import attrgetter
from pathlib import Path
from typing import Any, TypeVar

from parts.files import remembered
from parts.files.remembered import UNREADABLE, Unnamed, content, read

Part = TypeVar("Part")
MOST = 4000  # things that the studies of a process share, a corner's 300 and 100 a tweak: those not asked for
# longest go first
_shared: OrderedDict[tuple[Path, str], Any] = OrderedDict()  # by the folder things are kept in, and content


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
            (self._known[name],) = _of_this_process([name], lambda _: [make()])
        return self._known[name]

    def each(
        self, what: str, given: Sequence[object], make: Callable[[list[int]], Sequence[Part]]
    ) -> list[Part]:
        """What is made of each of `given` alone: `make` makes those of some places, that are not known."""
        names = [content((what, g)) for g in given]
        new = [k for k, name in enumerate(names) if not self._finds(name)]
        if new:
            own = _of_this_process([names[k] for k in new], lambda some: make([new[n] for n in some]))
            self._known.update(zip([names[k] for k in new], own, strict=True))
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


def _of_this_process(names: Sequence[str], make: Callable[[list[int]], Sequence[Part]]) -> list[Part]:
    """What any study of this process made under each name; `make` makes those of some places, that none
    did."""
    folder = remembered.cache_folder()
    if folder is None:
        return list(make([*range(len(names))]))
    out = [_shared.pop((folder, name), _shared) for name in names]
    left = [k for k, value in enumerate(out) if value is _shared]
    for k, value in zip(left, make(left) if left else (), strict=True):
        out[k] = value
    _shared.update(zip([(folder, name) for name in names], out, strict=True))
    while len(_shared) > MOST:
        _shared.popitem(last=False)
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
