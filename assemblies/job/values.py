"""How one value of a job file is read: its type, its range, the unit it was perhaps written in, and its
error.

A `Quantity`, `Coordinates` or `Word` stands in a field's annotation and reads that field; `below` and
`derived` relate it to a key above it; `assume` gives an optional key its default and the reason. Lengths come
out in mm.
"""

import difflib
import math
from collections.abc import Callable, Mapping
from typing import Annotated, Any, ClassVar, TypeVar, get_args

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    ValidationInfo,
    ValidatorFunctionWrapHandler,
    field_validator,
    model_validator,
)
from pydantic_core import PydanticCustomError, core_schema

from parts.base.frozen import dataclass
from parts.base.stock import MAX_THICKNESS_MM, STEELS, THREADS
from parts.base.units import INCH_MM, comma_hint, length_mm

UNMARKED = ("unknown", "scrap")  # said of a steel: the same as leaving its grade out
NAME_CHARACTERS = 80


def refuse(value: str, limit: str, cure: str = "") -> PydanticCustomError:
    """The error of one key: what it is, what it must be, what to do. `assemblies.job` turns it into a
    `Problem`."""
    return PydanticCustomError(
        "job", "{value}; {limit}; {cure}", {"value": value, "limit": limit, "cure": cure}
    )


def shown(value: Any) -> str:
    """A value as an error shows it: short, and as the file would write it."""
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float):
        return f"{value:.10g}"
    if isinstance(value, int) and abs(value) > 1e15:
        return "a huge number"
    if isinstance(value, list | tuple):
        text = "[" + ", ".join(shown(v) for v in value) + "]"
    else:
        text = plain(f'"{value}"' if isinstance(value, str) else repr(value))
    return text if len(text) <= 90 else text[:86] + " ..."


def plain(text: str) -> str:
    """Text as one may print it: what is no printable character is written out, so that no job or file name
    plays with the reader's terminal.

    >>> plain("rail\\x1b[31m"), plain("Ж стойка")
    ('rail\\\\x1b[31m', 'Ж стойка')
    """
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)


def nearest(word: Any, known) -> str:
    """`did you mean 'x'?`, or nothing where no known word is near."""
    found = difflib.get_close_matches(str(word).lower(), list(known), 1, 0.6)
    return f"did you mean '{found[0]}'?" if found else ""


def unit_hint(value: float, low: float, high: float) -> str:
    """Which unit a length far below its range was probably written in; nothing where none would bring it in
    range."""
    units = [(f'inches: write "{value:.6g} in"', INCH_MM), ("metres: all lengths are mm", 1000.0)]
    fitting = [text for text, mm in units if low <= value * mm <= high]
    return "looks like " + " or ".join(fitting) if 0 < value < low and fitting else ""


def _plain(value: Any) -> Any:
    """A number of numpy as Python's own."""
    return value.item() if hasattr(value, "item") and getattr(value, "ndim", 1) == 0 else value


def _mm(value: Any) -> float:
    try:
        return length_mm(value)
    except OverflowError:
        raise refuse("is too large a number", "a length must be a finite number") from None
    except ValueError as e:
        raise refuse(f"is {shown(value)}", str(e).partition("; ")[2]) from None


def _number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise refuse(f"is {shown(value)}", "must be a plain number", comma_hint(value))
    try:
        number = float(value)
    except OverflowError:
        raise refuse("is too large a number", "must be a finite number") from None
    if not math.isfinite(number):
        raise refuse(f"is {value!r}", "must be a finite number")
    return number


class Reader:
    """Reads a field by its `read` alone."""

    read: Callable[[Any], Any]

    def __get_pydantic_core_schema__(self, source, handler):
        return core_schema.no_info_plain_validator_function(self.read)


@dataclass(frozen=True)
class Quantity(Reader):
    """One number from `low` to `high` in `unit`; with the unit mm it may also be text such as "1/8 in"."""

    low: float
    high: float
    unit: str = "mm"
    whole: bool = False

    def read(self, value: Any) -> float:
        value = _plain(value)
        number = _mm(value) if self.unit == "mm" else _number(value)
        written = f" (written {shown(value)})" if isinstance(value, str) else ""
        if self.whole and number != int(number):
            raise refuse(f"is {number:.10g}", f"must be a whole number from {self.low:g} to {self.high:g}")
        if not self.low <= number <= self.high:
            hint = unit_hint(number, self.low, self.high) if self.unit == "mm" and not written else ""
            cure = hint or (
                "leave the minus sign out" if number < 0 <= self.low else "check the digits and the unit"
            )
            limit = f"{self.low:g} to {self.high:g}" if self.low < self.high else f"{self.low:g}"
            raise refuse(
                f"is {number:.10g} {self.unit}".rstrip() + written,
                f"must be {limit} {self.unit}".rstrip(),
                cure,
            )
        return int(number) if self.whole else number


class Standing(tuple):
    """A point as it stands in the car, where a node or a group's move has part in it. `written`: what the
    file says there, a node's name or a point; `key`: the key that holds the point ("node.A.at"), "" where
    it is the point's own; `moved`: from the point that key says to where this one stands; `free`: what a
    point written here in place of the node's name would be moved by."""

    written: Any
    key: str
    moved: tuple[float, float, float]
    free: tuple[float, float, float]

    def __new__(cls, point, written, key, moved, free):
        self = super().__new__(cls, point)
        self.written, self.key, self.moved, self.free = written, key, moved, free
        return self

    def __getnewargs__(self):
        return tuple(self), self.written, self.key, self.moved, self.free


@dataclass(frozen=True)
class Coordinates(Reader):
    """A list of `count` numbers, each from -`most` to `most`: lengths, or plain numbers for a direction."""

    count: int = 3
    most: float = 20_000.0
    unit: str = "mm"

    def read(self, value: Any) -> tuple[float, ...]:
        value = value.tolist() if hasattr(value, "tolist") else value
        names = "xyz"[: self.count]
        what = f"must be {self.count} {'lengths' if self.unit == 'mm' else 'numbers'}: [{', '.join(names)}]"
        if not isinstance(value, list | tuple):
            raise refuse(f"is {shown(value)}", what)
        if len(value) != self.count:
            split = self.count < len(value) <= 2 * self.count
            cure = "decimal commas? write each number with a point, such as 12.5" if split else ""
            raise refuse(f"has {len(value)} numbers: {shown(value)}", what, cure)
        point = []
        for name, v in zip(names, map(_plain, value), strict=True):
            try:
                number = _mm(v) if self.unit == "mm" else _number(v)
            except PydanticCustomError as e:
                said = e.context or {}
                raise refuse(f"{name} {said['value']}", said["limit"], said["cure"]) from None
            if abs(number) > self.most:
                limit = f"must be within ±{self.most:g} {self.unit}".rstrip()
                cure = "check the digits and the unit"
                if self.unit == "mm":
                    cure += f"; made mm twice from inches it was {number / 25.4:.6g}, with a digit too many "
                    cure += f"{number / 10:.6g}"
                raise refuse(f"{name} is {number:.10g} {self.unit}".rstrip(), limit, cure)
            point.append(number)
        return value if isinstance(value, Standing) else tuple(point)


@dataclass(frozen=True)
class Word(Reader):
    """One of the words of `known`."""

    known: tuple[str, ...]
    what: str = "must be one of"

    def read(self, value: Any) -> str:
        if not isinstance(value, str) or value not in self.known:
            words = ", ".join(f'"{w}"' for w in self.known)
            raise refuse(f"is {shown(value)}", f"{self.what} {words}", nearest(value, self.known))
        return value


def flag(value: Any) -> bool:
    if not isinstance(value, bool):
        raise refuse(f"is {shown(value)}", "must be true or false")
    return value


def text(value: Any) -> str:
    if not isinstance(value, str):
        raise refuse(f"is {shown(value)}", "must be text in quotes")
    name = value.strip()
    if not 1 <= len(name) <= NAME_CHARACTERS:
        raise refuse(
            f"has {len(name)} characters", f"must have 1 to {NAME_CHARACTERS}", "give it a short name"
        )
    if not name.isprintable():
        raise refuse(f"is {name!r}", "must be one line of printable text")
    return name


@dataclass(frozen=True)
class By(Reader):
    """One function reads it."""

    read: Callable[[Any], Any]  # pyrefly: ignore[bad-override]  # never set again


@dataclass(frozen=True)
class _Filled:
    """A value that `fill` works out, or has read."""

    fill: Callable[[Any, ValidatorFunctionWrapHandler, ValidationInfo], Any]

    def __get_pydantic_core_schema__(self, source, handler):
        return core_schema.with_info_wrap_validator_function(self.fill, handler(source))


@dataclass(frozen=True)
class _Passing:
    """A value that `check` lets pass or works on once it is read. Pydantic's own `AfterValidator` takes the
    function's signature apart each time."""

    check: Callable[[Any, ValidationInfo], Any]

    def __get_pydantic_core_schema__(self, source, handler):
        return core_schema.with_info_after_validator_function(self.check, handler(source))


def derived(rule: Callable[[dict[str, Any]], Any]) -> _Filled:
    """A default worked out from the keys above it; while one of those is wrong the value stays None (the job
    fails anyway)."""

    def fill(value: Any, read: ValidatorFunctionWrapHandler, info: ValidationInfo) -> Any:
        try:
            return rule(info.data) if value is None else read(value)
        except KeyError:
            return None

    return _Filled(fill)


# A default that the job works out from other tables: None while its own is read, there in a job that loads.
from_others = derived(lambda _: None)


def below(other: str, share: float = 1.0, cure: str = "", equal: bool = False, unit: str = "mm") -> _Passing:
    """The value must be less than (or, with `equal`, at most) `share` of the key `other` above it."""

    def check(value: float | None, info: ValidationInfo) -> float | None:
        if value is None or info.data.get(other) is None:
            return value
        limit = share * info.data[other]
        if value < limit or (equal and value == limit):
            return value
        part = other if share == 1 else f"{share:g} × {other}"
        words = "at most" if equal else "less than"
        raise refuse(f"is {value:.10g} {unit}", f"must be {words} {limit:.10g} {unit} ({part})", cure)

    return _Passing(check)


def assume(default: Any, why: str, **more: Any) -> Any:
    """An optional key: its default and, in a few words, why; `Job.assumed` lists both."""
    return Field(default, description=why, validate_default=True, **more)


class Frozen(dict[str, float]):
    """A table of names and numbers that stays as it was read."""

    def __hash__(self) -> int:  # a dict has none: this one stays as it is
        return hash(frozenset(self.items()))


class Table(BaseModel):
    """A table of the job file: frozen, no unknown keys; None (and a steel "scrap" or "unknown") means not
    given."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)

    @model_validator(mode="before")
    @classmethod
    def _leave_out_not_given(cls, given: Any) -> Any:
        if not isinstance(given, Mapping):
            return given
        steels = [k for k in ("material", "plate_material") if k in cls.model_fields]
        return {
            k: v
            for k, v in given.items()
            if v is not None and not (k in steels and isinstance(v, str) and v in UNMARKED)
        }


def _later(table: type[Table]) -> core_schema.CoreSchema:
    def read(value: Any, info: ValidationInfo) -> Table:
        return table.model_validate(value, context=info.context)

    return core_schema.with_info_plain_validator_function(read)


class _Later:
    def __get_pydantic_core_schema__(self, source, handler):
        return _later(source)


AnyTable = TypeVar("AnyTable", bound=Table)
# A table that many a job has none of: how it is read is worked out where a job has it. Pydantic takes a
# thousandth of a second for ten keys, and a job has half of all there are.
Later = Annotated[AnyTable, _Later()]


@dataclass(frozen=True)
class ByWord:
    """One of several tables, by the word of its `key`; of each it is worked out later, as of `Later`."""

    key: str

    def __get_pydantic_core_schema__(self, source, handler):
        words = {get_args(table.model_fields[self.key].annotation)[0]: table for table in get_args(source)}
        return core_schema.tagged_union_schema({w: _later(t) for w, t in words.items()}, self.key)


class Noted(Table):
    """A table whose values the job compares with other tables'; `table` is its name in the file."""

    table: ClassVar[str]

    @field_validator("*", mode="after")
    @classmethod
    def _note_what_was_read(cls, value: Any, info: ValidationInfo) -> Any:
        if info.context is not None:
            info.context[f"{cls.table}.{info.field_name}"] = value
        return value


# ------------------------------------------------------------ kinds of value

MIN_APART_MM = 0.01  # nearer than this, two points count as one


def away_from_start(to: Any, info: ValidationInfo) -> Any:
    """Of a table with `from` and `to`: that they are two points."""
    start = info.data.get("from_")
    if start is not None and math.dist(start, to) < MIN_APART_MM:
        raise refuse(f"is {shown(to)}, the same point as from", f"must be at least {MIN_APART_MM:g} mm away")
    return to


HOLLOW = "a wall thicker than the radius makes no tube"
Point = Annotated[tuple[float, float, float], Coordinates()]
FlatPoint = Annotated[tuple[float, float], Coordinates(2)]
Direction = Annotated[tuple[float, float, float], Coordinates(3, 1e6, "")]
Tube = Annotated[float, Quantity(3, 300)]
Wall = Annotated[float, Quantity(0.3, MAX_THICKNESS_MM)]
Thickness = Annotated[float, Quantity(0.5, MAX_THICKNESS_MM)]  # as far as the yields of the steels hold
Hole = Annotated[float, Quantity(2, 100)]
Radius = Annotated[float, Quantity(2, 500)]
Length = Annotated[float, Quantity(20, 5000)]
Travel = Annotated[float, Quantity(1, 500)]
Gap = Annotated[float, Quantity(0, 300)]
Margin = Annotated[float, Quantity(0, 50)]
Angle = Annotated[float, Quantity(-45, 45, "deg")]
Roll = Annotated[float, Quantity(-360, 360, "deg")]
Swing = Annotated[float, Quantity(1, 90, "deg")]
Teeth = Annotated[int, Quantity(2, 720, "", whole=True)]
Modulus = Annotated[float, Quantity(10_000, 120_000, "MPa")]
Flag = Annotated[bool, By(flag)]
Name = Annotated[str, By(text)]
Steel = Annotated[str, Word(tuple(STEELS), "must be a grade known here:")]
ThreadSize = Annotated[str, Word(tuple(THREADS), "must be a thread known here:")]
NO_GRADE = "grade not given: unmarked steel counts as S235 at best"
