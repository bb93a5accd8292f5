"""The frozen `dataclass` of this project against the standard library's, of the same class bodies."""

import dataclasses
import inspect
import pickle
from dataclasses import FrozenInstanceError, field, fields, replace
from functools import cached_property
from typing import get_type_hints

import pytest

from parts.base.frozen import dataclass


def _made(decorate):
    """A few classes that use all that the project's use, and values of them."""

    @decorate(frozen=True)
    class None_:
        pass

    @decorate(frozen=True)
    class One:
        x_mm: float

    @decorate(frozen=True)
    class More(One):
        """With words of its own."""

        name: str = "rail"
        walls: list[float] = field(default_factory=list, compare=False)
        note: str = field(default="", repr=False, compare=False)
        put: float = 1.0
        at: tuple[float, float] = field(default=(0.0, 0.0), kw_only=True)
        last: int = 3

        def __post_init__(self):
            if self.x_mm < 0:
                raise ValueError("x_mm is below nothing")

        @cached_property
        def twice_mm(self) -> float:
            return 2 * self.x_mm

    @decorate(frozen=True, eq=False)
    class Itself:
        x_mm: float

    @decorate(frozen=True, repr=False)
    class Own:
        x_mm: float

        def __eq__(self, other):
            return True

        def __repr__(self):
            return "<own>"

    @decorate(frozen=True)
    class Hashed(One):
        def __hash__(self):
            return 7

    values = [
        None_(),
        One(1.5),
        One(x_mm=2.5),
        More(1.5),
        More(1.5, "post", [3.0], "said", 4.0, 5, at=(1.0, 2.0)),
        More(1.5, walls=[9.0], note="not compared"),
        Itself(1.5),
        Own(1.5),
        Own(2.5),
        Hashed(1.5),
    ]
    return (None_, One, More, Itself, Own, Hashed), values


OURS, STANDARD = _made(dataclass), _made(dataclasses.dataclass)


def _outcome(do):
    try:
        return do()
    except Exception as e:
        return type(e), str(e)


def test_equal_hashed_and_shown_as_the_librarys():
    for ours, standard in zip(OURS[1], STANDARD[1], strict=True):
        assert [ours == o for o in OURS[1]] == [standard == s for s in STANDARD[1]]
        assert ours.__eq__(3) == standard.__eq__(3)
        if "Itself" not in type(ours).__name__:
            assert hash(ours) == hash(standard) and repr(ours) == repr(standard)
    assert OURS[1][6] == OURS[1][6] and len({*OURS[1][6:7], OURS[0][3](1.5)}) == 2
    inner = OURS[0][1]([])
    inner.x_mm.append(inner)
    assert repr(inner).endswith("One(x_mm=[...])")


def test_made_changed_and_refused_as_the_librarys():
    tries = [
        lambda c: c[2](),
        lambda c: c[2](-1.0),
        lambda c: c[2](1.0, "a", [], "", 1.0, 2, (3.0, 4.0)),
        lambda c: c[1](1.0, x_mm=2.0),
        lambda c: setattr(c[2](1.0), "x_mm", 2.0),
        lambda c: setattr(c[2](1.0), "twice_mm", 2.0),
        lambda c: delattr(c[2](1.0), "x_mm"),
        lambda c: repr(replace(c[2](1.0, "a", [5.0]), x_mm=3.0)),
        lambda c: replace(c[2](1.0), x_mm=-3.0),
        lambda c: replace(c[2](1.0), y_mm=3.0),
        lambda c: c[2](1.0).twice_mm,
        lambda c: c[2](1.0).walls is c[2](1.0).walls,
        lambda c: [(f.name, f.type, f.default, f.compare, f.repr) for f in fields(c[2])],
        lambda c: dataclasses.asdict(c[2](1.0)),
        lambda c: [k.__match_args__ for k in c],
        lambda c: [str(inspect.signature(k)) for k in c],
        lambda c: c[2].__doc__,
        lambda c: c[2].__init__.__qualname__ + c[2].__init__.__module__,
        lambda c: get_type_hints(c[2].__init__)["at"],
    ]
    for do in tries:
        assert _outcome(lambda: do(OURS[0])) == _outcome(lambda: do(STANDARD[0]))  # noqa: B023
    with pytest.raises(FrozenInstanceError):
        OURS[1][1].x_mm = 3.0


@dataclass(frozen=True)
class Kept:
    x_mm: float
    parts: tuple["Kept", ...] = ()


def test_pickled_as_any():
    for protocol in range(2, pickle.HIGHEST_PROTOCOL + 1):
        kept = Kept(1.5, (Kept(2.5),))
        assert pickle.loads(pickle.dumps(kept, protocol)) == kept


def test_a_field_that_is_not_given_is_refused_when_the_class_is_made():
    with pytest.raises(TypeError, match="takes every field"):

        @dataclass(frozen=True)
        class Wrong:
            x_mm: float = field(init=False)


def test_a_class_is_compiled_once_where_it_is_first_asked_for():
    @dataclass(frozen=True)
    class First:
        x_mm: float = 1.0

    class Heir(First):
        pass

    assert not inspect.isfunction(vars(First)["__init__"])
    assert str(inspect.signature(Heir)) == "(x_mm: float = 1.0) -> None"
    made = vars(First)["__init__"]
    assert inspect.isfunction(made) and "__init__" not in vars(Heir)
    assert (First(2.0).x_mm, Heir().x_mm) == (2.0, 1.0) and vars(First)["__init__"] is made
