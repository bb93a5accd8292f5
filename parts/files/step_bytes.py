"""The same shapes as the same bytes: a STEP file's colours in the order of its parts, and no noise in its
numbers.

The kernel walks the colours by where its shapes lie in memory, and a sum of cosines that is nothing comes out
as 2e-18 or as 0 by the order of its terms; neither means anything to a reader.
"""

from __future__ import annotations

import re

ENTITY = re.compile(rb"#(\d+) = ((?:'(?:[^']|'')*'|[^';])*);\s*")
STYLES = b"MECHANICAL_DESIGN_GEOMETRIC_PRESENTATION_REPRESENTATION"
REF = re.compile(rb"'(?:[^']|'')*'|#(\d+)")
NOISE = re.compile(  # below 1e-14; names are passed over
    rb"'(?:[^']|'')*'|(?<=[(,\s])(?:-?\d\.\d*E-(?:0?1[5-9]|0?[2-9]\d|[1-9]\d\d)|-0\.)(?=[,)\s])"
)


def same_bytes(file: bytes) -> bytes:
    """The file (of one data section, as the kernel writes it) made to hang on its shapes alone."""
    return _coloured(NOISE.sub(lambda m: m[0] if m[0].startswith(b"'") else b"0.", file))


def _coloured(file: bytes) -> bytes:
    """The styles at its end in the order of what they colour, numbered anew."""
    start = re.search(rb"^#(\d+) = " + STYLES, file, re.MULTILINE)
    end = file.rfind(b"ENDSEC;")
    if start is None or end < start.start():
        return file
    tail = file[start.start() : end]
    entities = {int(m[1]): m[2] for m in ENTITY.finditer(tail)}
    order: dict[int, None] = {}  # a set that keeps the order

    def walk(number: int) -> None:
        if number in entities and number not in order:
            order[number] = None
            for ref in _refs(entities[number]):
                walk(ref)

    roots = [n for n, text in entities.items() if text.startswith(STYLES)]
    for root in sorted(roots, key=lambda n: _coloured_thing(entities, n)):
        walk(root)
    for rest in entities:
        walk(rest)
    first = int(start[1])
    new = {old: first + i for i, old in enumerate(order)}
    lines = [b"#%d = %s;\n" % (new[n], _renumbered(entities[n], new)) for n in order]
    return file[: start.start()] + b"".join(lines) + file[end:]


def _refs(text: bytes) -> list[int]:
    return [int(m[1]) for m in REF.finditer(text) if m[1]]


def _coloured_thing(entities: dict[int, bytes], root: int) -> list[int]:
    """Numbers of the shapes that a root's styles colour: what they name outside the styles."""
    items = [r for r in _refs(entities[root]) if r in entities]
    return [r for item in items for r in _refs(entities[item]) if r not in entities] + _refs(entities[root])[
        -1:
    ]


def _renumbered(text: bytes, new: dict[int, int]) -> bytes:
    def put(m: re.Match) -> bytes:
        return b"#%d" % new.get(int(m[1]), int(m[1])) if m[1] else m[0]

    return re.sub(rb"\s*\n\s*", b"", REF.sub(put, text))
