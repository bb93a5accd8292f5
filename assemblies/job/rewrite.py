"""A job file with other values in it, its comments, order and units kept: only what changes is rewritten."""

from __future__ import annotations

import json
import re
import tomllib
from collections import Counter
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from assemblies.job.file import with_frame
from assemblies.job.job import Job

HEADER = re.compile(r"^\s*(\[\[?)\s*([^\[\]]+?)\s*\]\]?\s*(#.*)?$")
KEY = re.compile(r'^(\s*)((?:[A-Za-z0-9_-]+|"[^"]*")(?:\s*\.\s*(?:[A-Za-z0-9_-]+|"[^"]*"))*)(\s*=\s*)')
Place = tuple[str | int, ...]


def rewritten(text: str, new: Job) -> str:
    """`text`, a job file, saying what `new` says. Raises ValueError where it cannot be said by changing
    values
    and adding keys (a table or a member more or less)."""
    shared = new.frame.file

    def read(said: str) -> dict:
        tables = tomllib.loads(said)
        return Job.from_dict(with_frame(tables, Path(shared)) if shared else tables).to_dict()

    given = tomllib.loads(text)
    old, want = read(text), new.to_dict()
    lines = list(_changed(text, given, old, want))
    out = "\n".join(lines)
    if _bare(read(out)) != _bare(want):
        if shared and old.get("member") != want.get("member"):
            raise ValueError(f"its frame stands in {Path(shared).name}, which is not rewritten")
        raise ValueError("the file's layout does not allow it; write the values in yourself")
    return out


def _bare(job: dict) -> dict:
    """Without the places of STEP files, which a file tells from its own folder."""
    return job | {"member": [{k: v for k, v in m.items() if k != "file"} for m in job.get("member", ())]}


def other_side(text: str, job: Job) -> str:
    """`text`, the file of `job`, turned into the other side of the car: points, axis, rolls, turns and
    moments by
    `Job.mirrored`, and a name of its own."""
    new = job.mirrored()
    side = new.corner.side
    name = re.sub(r"(?i)\b(left|right)\b", side, job.name)
    return rewritten(text, new.changed({"name": name if name != job.name else f"{job.name} {side}"}))


def _changed(text: str, given: dict, old: dict, want: dict) -> Iterator[str]:
    count: Counter[Place] = Counter()
    path: Place = ()
    pending = text.split("\n")
    if added := [*_added((), old, want)]:
        raise ValueError(f"{added[0]} stands outside of the file's tables")
    while pending:
        line = pending.pop(0)
        if head := HEADER.match(line):
            path = tuple(p.strip().strip('"') for p in head[2].split("."))
            if head[1] == "[[":
                path, n = (*path, count[path]), path
                count[n] += 1
            yield line
            yield from _added(path, old, want)
            continue
        key = KEY.match(line)
        if not key:
            yield line
            continue
        while not _whole(line) and pending:
            line += "\n" + pending.pop(0)
        at = (*path, *(p.strip().strip('"') for p in key[2].split(".")))
        was, now = _get(old, at), _get(want, at)
        if at[-1] == "file":
            now = was
        if now is None and was is not None:
            continue
        yield line if was == now else key[0] + literal(now) + _comment(line)


def _added(path: Place, old: dict, want: dict) -> Iterator[str]:
    before, after = _get(old, path), _get(want, path)
    if isinstance(before, Mapping) and isinstance(after, Mapping):
        for key, value in after.items():
            if key not in before:
                yield f"{key} = {literal(value)}"


def _get(tables: Any, path: Place) -> Any:
    for at in path:
        if isinstance(at, int):
            tables = tables[at] if isinstance(tables, list) and at < len(tables) else None
        else:
            tables = tables.get(at) if isinstance(tables, Mapping) else None
    return tables


def _whole(line: str) -> bool:
    try:
        tomllib.loads(line)
    except tomllib.TOMLDecodeError:
        return False
    return True


def _comment(line: str) -> str:
    """The comment behind a value, with the blanks before it; a value over several lines keeps the last
    one's."""
    last, quoted = line.split("\n")[-1], ""
    for i, c in enumerate(last):
        if quoted:
            quoted = "" if c == quoted else quoted
        elif c in "\"'":
            quoted = c
        elif c == "#":
            return last[len(last[:i].rstrip()) :]
    return ""


def literal(value: Any) -> str:
    """A value as TOML.

    >>> literal([1.0, -2.5, 0.0]), literal(True), literal("a \\"b\\"")
    ('[1, -2.5, 0]', 'true', '"a \\\\"b\\\\""')
    """
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float | int):
        return f"{value + 0.0:.10g}"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{k} = {literal(v)}" for k, v in value.items()) + " }"
    return "[" + ", ".join(map(literal, value)) + "]"
