"""The solids in a STEP file's text: each one's block of entities taken out, numbered from 0, and put into
another file in the place of a ball.

The kernel writes a part's solids as one run of entities that name no other but the origin's axes: first the
representation, last its units and its uncertainty. Text of ISO 10303-21; no kernel here.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from parts.base.frozen import dataclass

FIRST = re.compile(
    rb"^#(\d+) = \w*SHAPE_REPRESENTATION\('',\(#(\d+),([^)]*)\),\s*#(\d+)\);\n"
    rb"(?=#\d+ = (?:MANIFOLD_SOLID_BREP|BREP_WITH_VOIDS)\()",
    re.MULTILINE,
)
AXES_LATE = re.compile(
    rb"^#(\d+)( = \w*SHAPE_REPRESENTATION\('',[^;]*;\n)"
    rb"(#\d+ = AXIS2_PLACEMENT_3D[^;]*;\n#\d+ = CARTESIAN_POINT[^;]*;\n(?:#\d+ = DIRECTION[^;]*;\n){2})"
    rb"(?=#\d+ = (?:MANIFOLD_SOLID_BREP|BREP_WITH_VOIDS)\()",
    re.MULTILINE,
)
UNITS = 5  # entities that end a block: context, length, angle, solid angle, uncertainty
REF = re.compile(rb"'(?:[^']|'')*'|#(\d+)")
BALL = re.compile(rb"SPHERICAL_SURFACE\('',#\d+,([0-9.E+]+)\)")
AXES = -1  # stands for the origin's axes, which are the file's


class NoBody(ValueError):
    """A text that is not laid out as the kernel lays out solids."""


@dataclass(frozen=True)
class StepBody:
    """One part's entities: their text with a %d for each number, and the numbers from 0, AXES among them;
    `heads` the numbers of its solids, `count` of entities."""

    text: bytes
    numbers: tuple[int, ...]
    heads: tuple[int, ...]
    count: int

    def at(self, first: int, axes: int) -> bytes:
        """Its text with its numbers from `first` on."""
        n = np.array(self.numbers)
        return self.text % tuple(np.where(n == AXES, axes, n + first).tolist())


@dataclass(frozen=True)
class _Block:
    """Where in a file one part's entities are: places of the text, numbers of entities."""

    start: int
    end: int
    first: int
    axes: int
    heads: tuple[int, ...]
    count: int


def _blocks(file: bytes) -> list[_Block]:
    found = []
    for m in FIRST.finditer(file):
        first, axes, context = int(m[1]), int(m[2]), int(m[4])
        end = file.find(b"\n#%d = " % (context + UNITS), m.end()) + 1
        if not end:
            raise NoBody(f"entity {context + UNITS} does not follow a solid's units")
        heads = tuple(int(n) - first for n in re.findall(rb"#(\d+)", m[3]))
        found.append(_Block(m.start(), end, first, axes, heads, context + UNITS - first))
    return found


def axes_first(file: bytes) -> bytes:
    """The file of one part that hangs on no tree laid out as one in a tree: the origin's axes, four entities,
    before the representation that names them."""
    found = AXES_LATE.search(file)
    if not found:
        return file
    head = int(found[1])
    new = {head: head + 4} | {n + 1: n for n in range(head, head + 4)}
    moved = file[: found.start()] + found[3] + b"#%d" % head + found[2] + file[found.end() :]
    return REF.sub(lambda m: b"#%d" % new.get(int(m[1]), int(m[1])) if m[1] else m[0], moved)


def taken(file: bytes) -> StepBody:
    """The solids of a file of one part. Raises NoBody where they are no block of their own."""
    blocks = _blocks(file)
    if len(blocks) != 1:
        raise NoBody(f"{len(blocks)} parts of solids")
    b, numbers = blocks[0], list[int]()

    def number(m: re.Match) -> bytes:
        if not m[1]:
            return m[0]
        numbers.append(AXES if int(m[1]) == b.axes else int(m[1]) - b.first)
        return b"#%d"

    text = REF.sub(number, file[b.start : b.end].replace(b"%", b"%%"))
    own = text.count(b"#%d = ")
    if own != b.count or not all(n == AXES or 0 <= n < b.count for n in numbers):
        raise NoBody("a solid's entities name others")
    return StepBody(text, tuple(numbers), b.heads, b.count)


def put_in(file: bytes, bodies: Sequence[StepBody]) -> bytes:
    """The file with each part's balls replaced by a body: that of index k - 1 where their radius is k mm.
    Raises NoBody where file and bodies do not belong together."""
    blocks = _blocks(file)
    radii = [{float(r) for r in BALL.findall(file[b.start : b.end])} for b in blocks]
    order = [int(r.pop()) - 1 for r in radii if len(r) == 1]
    if sorted(order) != list(range(len(bodies))):
        raise NoBody(f"{len(bodies)} bodies for balls numbered {sorted(order)}")
    last = max(int(n) for n in re.findall(rb"^#(\d+) = ", file, re.MULTILINE))
    new, more = np.arange(last + 1), 0  # an entity's new number; 0 where it is gone
    for b, k in zip(blocks, order, strict=True):
        body, first = bodies[k], b.first + more
        if len(b.heads) != len(body.heads):
            raise NoBody(f"{len(b.heads)} balls for {len(body.heads)} solids")
        more += body.count - b.count
        new[b.first : b.first + b.count] = 0
        new[b.first + b.count :] += body.count - b.count
        new[[b.first + h for h in b.heads]] = [first + h for h in body.heads]
        new[b.first], new[b.first + b.count - UNITS] = first, first + body.count - UNITS

    def number(m: re.Match) -> bytes:
        if not m[1]:
            return m[0]
        if not new[int(m[1])]:
            raise NoBody(f"entity {int(m[1])} of a ball is named from outside")
        return b"#%d" % new[int(m[1])]

    out, at = list[bytes](), 0
    for b, k in zip(blocks, order, strict=True):
        out += [REF.sub(number, file[at : b.start]), bodies[k].at(int(new[b.first]), int(new[b.axes]))]
        at = b.end
    return b"".join([*out, REF.sub(number, file[at:])])
