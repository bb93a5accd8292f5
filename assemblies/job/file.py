"""A job's file and its tables, whatever they describe: read, changed by dotted keys, written back, every
default told, every error in one line."""

import re
import tomllib
import unicodedata
from collections.abc import Iterator, Mapping
from functools import cached_property
from pathlib import Path
from typing import Annotated, Any, Self, get_args

from pydantic import BaseModel, ValidationError, field_validator

from assemblies.job.checks import problems_between
from assemblies.job.places import standing
from assemblies.job.problem import Problem
from assemblies.job.toml_file import comma_in
from assemblies.job.values import (
    NAME_CHARACTERS,
    Coordinates,
    Name,
    Noted,
    Quantity,
    Standing,
    assume,
    nearest,
    refuse,
    shown,
)
from parts.base.frozen import dataclass

_WINDOWS_NAMES = {"con", "prn", "aux", "nul", *(f"{p}{i}" for p in ("com", "lpt") for i in range(1, 10))}


class JobError(ValueError):
    """A job that cannot be used; `problems` in a fixed order, printed one a line."""

    def __init__(self, problems: list[Problem]):
        self.problems = tuple(problems)
        super().__init__("\n".join(map(str, self.problems)))


@dataclass(frozen=True)
class Assumed:
    """A default that was taken: its key, value (None: left out), unit and why."""

    key: str
    value: Any
    unit: str
    why: str

    def __str__(self) -> str:
        value = "none" if self.value in (None, ()) else f"{shown(self.value)} {self.unit}".rstrip()
        return f"{self.key} = {value} ({self.why})"


class File(Noted):
    """The tables of one file. Equal by content, hashable, never changed: `changed` gives a new one."""

    table = "job"
    schema_: Annotated[int, Quantity(1, 1, "", whole=True)] = assume(
        1, "the only form of job file so far", alias="schema"
    )
    name: Name

    def __init__(self, /, **given: Any):
        """Raises JobError listing every problem."""
        seen: dict[str, Any] = {}
        given, problems = standing(written(given))
        told = {p.key for p in problems}
        try:
            self.__pydantic_validator__.validate_python(given, self_instance=self, context=seen)
        except ValidationError as e:
            problems += [p for p in problems_of(e, given, type(self)) if p.key not in told]
        members = given.get("member")
        names = [x.get("name") for x in members if isinstance(x, dict)] if isinstance(members, list) else []
        problems += problems_between(seen, names)
        if problems:
            raise JobError(problems)

    @field_validator("name", mode="after")
    @classmethod
    def _names_a_folder(cls, name: str) -> str:
        if not slug(name):
            raise refuse(f"is {shown(name)}", "must hold a letter or a digit", "it names the output folder")
        return name

    @classmethod
    def from_dict(cls, given: Mapping[str, Any]) -> Self:
        """A job from the tables of a file. Raises JobError."""
        if isinstance(given, cls):
            return given
        if not isinstance(given, Mapping):
            raise JobError([Problem("job", f"is {shown(given)}", "must be a table of tables")])
        return cls(**{str(k): v for k, v in given.items()})

    @classmethod
    def model_validate(cls, obj: Any, **_: Any) -> Self:
        return cls.from_dict(obj)

    def to_dict(self) -> dict[str, Any]:
        """The job as its file would say it, lengths in mm, defaults left out; `from_dict` reads it back
        equal."""
        return written(self)

    def changed(self, changes: Mapping[str, Any]) -> Self:
        """A new job with the dotted keys of `changes` set, checked again; None puts a key back to its
        default.

        A member goes by its name ("member.lower rail.wall"), as nodes and groups do, a plate by its name or
        its number from 1. Raises JobError."""
        tables = self.to_dict()
        for key, value in changes.items():
            _put(tables, str(key), value)
        return type(self).from_dict(tables)

    @cached_property
    def member_by_name(self) -> dict[str, Any]:
        return {m.name: m for m in getattr(self, "member", ())}

    @cached_property
    def assumed(self) -> tuple[Assumed, ...]:
        """Every default that was taken, in the order of the file."""
        return tuple(_assumed(self, ""))

    @property
    def slug(self) -> str:
        """Name of the output folder."""
        return slug(self.name)


def tables_of(
    path: str | Path, cure: str = "`rockershed new FILE` writes one to start from"
) -> dict[str, Any]:
    """The tables of a TOML file, members' STEP files as paths below its folder. Raises JobError."""
    path = Path(path)
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        raise JobError([Problem(str(path), "no such file", cure=cure)]) from None
    except OSError as e:
        raise JobError([Problem(str(path), f"cannot be read: {e.strerror}")]) from None
    except UnicodeDecodeError as e:
        said = f"byte {e.start + 1} is not UTF-8"
        raise JobError([Problem(str(path), said, "a job file is UTF-8 text", "save it as UTF-8")]) from None
    try:
        given = tomllib.loads(text)
    except (ValueError, RecursionError) as e:
        what, _, where = str(e).partition(" (at ")
        found = re.match(r"line (\d+), column (\d+)", where)
        line = int(found[1]) if found else text.count("\n") + 1
        said = text.splitlines()[line - 1].strip() if line <= len(text.splitlines()) else ""
        hint = comma_in(said)
        raise JobError(
            [
                Problem(
                    f"{path}, line {line}",
                    what[:1].lower() + what[1:],
                    "must be TOML: key = value, text in quotes",
                    f"near: {said[:80]}{hint and '; ' + hint}" if said else "",
                )
            ]
        ) from None
    members = given.get("member")
    for member in members if isinstance(members, list) else []:
        if isinstance(member, dict) and isinstance(member.get("file"), str):
            member["file"] = str(path.parent.absolute() / Path(member["file"]).expanduser())
    frame = given.get("frame")
    if not isinstance(frame, dict) or not isinstance(frame.get("file"), str):
        return given
    return with_frame(given, path.parent.absolute() / Path(frame["file"]).expanduser())


SHARED = ("node", "group", "member", "junction")  # what a job takes from its frame file, before its own


def with_frame(given: Mapping[str, Any], file: Path) -> dict[str, Any]:
    """The tables with those of the frame's own file, which may be a job of its own. Raises JobError."""
    shared = tables_of(file, "frame.file is taken from the job file's folder")
    frame = shared.get("frame", {})
    if isinstance(frame, dict) and "file" in frame:
        named = Problem("frame.file", f"is {shown(str(file))}, which names another frame file")
        raise JobError([named])
    out = dict(given)
    for key in SHARED:
        both = [t.get(key) for t in (shared, given) if key in t]
        if both and all(isinstance(b, list) for b in both):
            out[key] = [entry for b in both for entry in b or ()]
    own = {k: v for k, v in frame.items() if k in ("join_within", "sides", "goes_on", "paper")}
    out["frame"] = own | given["frame"] | {"file": str(file)}
    return out


def slug(name: str) -> str:
    """A file name every system takes: letters, digits and hyphens, at most 80 bytes. Western letters lose
    their
    accents; a name with letters of another script keeps them. Empty where `name` has no letter and no digit.

    >>> slug("Heronbank front #2"), slug("../CON"), slug("Левый угол 2"), slug("Çà & là")
    ('heronbank-front-2', 'con-job', 'левый-угол-2', 'ca-la')
    """
    apart = unicodedata.normalize("NFKD", name)
    plain = "".join(c for c in apart if not unicodedata.combining(c)).casefold()
    if not plain.isascii():
        plain = unicodedata.normalize("NFC", unicodedata.normalize("NFKC", name).casefold())
    words = "".join(c if c.isalnum() or unicodedata.category(c)[0] == "M" else "-" for c in plain)
    text = re.sub("-+", "-", words).strip("-").encode()[:80].decode(errors="ignore").strip("-")
    return f"{text}-job" if text in _WINDOWS_NAMES else text


# ------------------------------------------------------------------------------------------------ as written


def written(value: Any) -> Any:
    """Models as the tables a file would hold: what was set, under the file's keys, lists for tuples."""
    if type(value) in (float, str, int, bool):
        return value
    if isinstance(value, Standing):
        return value.written
    if isinstance(value, BaseModel):
        fields = type(value).model_fields
        return {
            f.alias or k: written(getattr(value, k)) for k, f in fields.items() if k in value.model_fields_set
        }
    if isinstance(value, Mapping):
        return {str(k): written(v) for k, v in value.items()}
    return [written(v) for v in value] if isinstance(value, list | tuple) else value


def _put(table: dict[str, Any], key: str, value: Any) -> None:
    node: Any = table
    at: Any
    rest = key
    while True:
        if isinstance(node, list):
            at, rest = _entry(node, key, rest)
        elif isinstance(node, dict):
            at, _, rest = rest.partition(".")
            if rest:
                node.setdefault(at, {})
        else:
            raise JobError([Problem(key, "unknown key", f"{key[: -len(rest) - 1]} holds a value, no keys")])
        if not rest:
            break
        node = node[at]  # pyrefly: ignore[bad-index]  # `at` is of the kind that its node asks for
    if value is None and isinstance(node, list):
        del node[at]  # pyrefly: ignore[unsupported-operation]
    else:
        node[at] = value  # pyrefly: ignore[unsupported-operation]


def _entry(entries: list, key: str, rest: str) -> tuple[int, str]:
    """Place in a list of tables that `rest` begins with (a name, or a number from 1), and what follows it."""
    numbers = {str(i + 1): i for i in range(len(entries))}
    names = {
        str(e["name"]): i for i, e in enumerate(entries) if isinstance(e, dict) and "name" in e
    } or numbers
    both = numbers | names
    for name in sorted(both, key=len, reverse=True):
        if rest == name or rest.startswith(name + "."):
            return both[name], rest[len(name) + 1 :]
    if len(entries) == 1 and "1" in names:
        return 0, rest
    known = "there is " + (", ".join(names) or "none")
    raise JobError([Problem(key, "unknown key", known, nearest(rest.partition(".")[0], names))])


# ------------------------------------------------------------ defaults taken


def _assumed(table: BaseModel, path: str) -> Iterator[Assumed]:
    for name, field in type(table).model_fields.items():
        value, key = getattr(table, name), path + (field.alias or name)
        if isinstance(value, BaseModel):
            yield from _assumed(value, key + ".")
        elif isinstance(value, tuple) and value and isinstance(value[0], BaseModel):
            for i, entry in enumerate(value):
                yield from _assumed(entry, f"{key}.{_label(entry.__dict__, i, len(value))}")
        elif name not in table.model_fields_set:
            yield Assumed(
                key,
                value,
                _unit(field.metadata) or _unit(get_args(field.annotation)),
                field.description or "",
            )


def _unit(annotation: Any) -> str:
    for part in annotation:
        if isinstance(part, Quantity | Coordinates):
            return part.unit
        if found := _unit(get_args(part)):
            return found
    return ""


def _label(entry: Any, i: int, count: int) -> str:
    """How a key path names an entry of a list: by its name, else by its number from 1; a lone plate needs
    neither."""
    name = entry.get("name") if isinstance(entry, Mapping) else None
    if isinstance(name, str) and 1 <= len(name.strip()) <= NAME_CHARACTERS:
        return name.strip() + "."
    return "" if count == 1 and name is None else f"{i + 1}."


# ------------------------------------------------------------ errors in words


def problems_of(error: ValidationError, given: Mapping[str, Any], root: type[BaseModel]) -> list[Problem]:
    """Each of pydantic's errors as key, value, limit and cure; a misspelt key is not also reported as
    missing."""
    found, respelt = [], set()
    errors = error.errors(include_url=False)
    for e in errors:
        if e["type"] == "extra_forbidden":
            key, model, _ = _walk(e["loc"], given, root)
            known = [f.alias or k for k, f in model.model_fields.items()]
            near = nearest(e["loc"][-1], known)
            respelt.add((*e["loc"][:-1], near[len("did you mean '") : -2]))
            found.append((e, Problem(key, "unknown key", "", near or "known here: " + ", ".join(known))))
        else:
            found.append((e, _problem(e, given, root)))
    return [p for e, p in found if not (e["type"] == "missing" and e["loc"] in respelt)]


def _problem(e: Mapping[str, Any], given: Mapping[str, Any], root: type[BaseModel]) -> Problem:
    key, _, annotation = _walk(e["loc"], given, root)
    kind, ctx, value = e["type"], e.get("ctx", {}), e["input"]
    if kind == "job":
        return Problem(key, ctx["value"], ctx["limit"], ctx["cure"])
    if kind == "missing":
        what, cure = ("table", f"add [{key}]") if _models(annotation) else ("key", _where(key, root))
        return Problem(key, "missing", f"this {what} must be there", cure)
    if kind.startswith("union_tag"):
        tag = ctx["discriminator"].strip("'")
        words = [get_args(c.model_fields[tag].annotation)[0] for c in _models(annotation)]
        said = f"is {shown(value[tag])}" if isinstance(value, Mapping) and tag in value else "missing"
        return Problem(
            f"{key}.{tag}",
            said,
            "must be one of " + ", ".join(f'"{w}"' for w in words),
            nearest(value[tag], words) if said != "missing" else "",
        )
    if kind.startswith("model_"):
        return Problem(key, f"is {shown(value)}", "must be a table", f"write [{key}] with its keys below")
    if kind in ("tuple_type", "list_type"):
        cure = f"write [[{key}]]" if _models(annotation) else "write [ ... ]"
        return Problem(key, f"is {shown(value)}", "must be a list", cure)
    return Problem(key, f"is {shown(value)}", e["msg"])


def _where(key: str, root: type[BaseModel]) -> str:
    table = key.rpartition(".")[0]
    return (
        f"add it to [{table}]"
        if table in root.model_fields
        else f"add it to {table or 'the top of the file'}"
    )


def _walk(loc: tuple, given: Any, root: type[BaseModel]) -> tuple[str, type[BaseModel], Any]:
    """The file's key path of an error's place, the model that holds it, and the annotation of what stands
    there."""
    path, model, value = "", root, given
    annotation: Any = root
    for at in loc:
        if at == "[key]":
            continue
        if isinstance(at, int):
            many = value if isinstance(value, list) else [value]
            value = many[at] if at < len(many) else None
            path += _label(value, at, len(many))
            continue
        models = _models(annotation)
        if len(models) > 1 and any(
            at in get_args(f.annotation) for c in models for f in c.model_fields.values()
        ):
            annotation = next(
                c for c in models if any(at in get_args(f.annotation) for f in c.model_fields.values())
            )
            continue  # the union's tag is no key of the file
        model = models[0] if models else model
        field = next((f for k, f in model.model_fields.items() if (f.alias or k) == at), None)
        annotation = field.annotation if field else None
        value = value.get(at) if isinstance(value, Mapping) else None
        path += f"{at}."
    return path.rstrip("."), model, annotation


def _models(annotation: Any) -> list[type[BaseModel]]:
    """Every model an annotation can hold, through unions, tuples and Annotated."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [found for part in get_args(annotation) for found in _models(part)]
