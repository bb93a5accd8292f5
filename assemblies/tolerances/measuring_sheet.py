"""The measuring sheet: asks for exactly what the job file needs, read off the job file's own model, with a
sketch of the points."""

from __future__ import annotations

from pathlib import Path
from types import UnionType
from typing import Union, get_args, get_origin

from pydantic import BaseModel

from assemblies.job import STARTER, Job
from assemblies.job.file import tables_of
from assemblies.job.values import Coordinates, Quantity, Word
from parts.base.frozen import dataclass
from parts.base.units import PAPERS_MM

WHERE = {  # between which faces, where a key's name does not say it
    "wheel.centre": "middle of the hub, middle of the tyre's width",
    "wheel.contact": "middle of the tyre's print on the ground",
    "wheel.rim_diameter": "as stamped, at the bead",
    "wheel.tyre_width": "on its rim, sidewall to sidewall",
    "corner.corner_mass": "scale under this wheel, driver aboard",
    "corner.unsprung_mass": "wheel, hub, upright, brake and half of the arms",
    "corner.bump": "wheel travel up from ride height",
    "corner.droop": "wheel travel down from ride height",
    "rod.outboard": "middle of the ball, not the bolt head",
    "rod.inboard": "middle of the ball, not the bolt head",
    "rocker.pivot": "on the pivot's axis, in the rod eye's plane",
    "rocker.axis": "of the pivot bolt: one end less the other",
    "rocker.damper_eye": "middle of the eye",
    "rocker.box_width": "between the plates' inner faces",
    "damper.chassis_eye": "middle of the eye",
    "damper.longest": "eye centre to eye centre, pulled out",
    "damper.shortest": "eye centre to eye centre, pushed in, bump rubber off",
    "damper.body_diameter": "the thickest place",
    "spring.length": "free length between the clamp's and the socket's faces",
    "spring.leaf_thickness": "micrometer, middle of ten strips",
    "spring.diameter": "micrometer, away from the ends",
    "spring.free_length": "on the bench",
    "tie_rod.inner": "middle of the inner ball, rack centred",
}


@dataclass(frozen=True)
class Ask:
    """One thing to measure: its key in the job file, "point", "direction", "number" or "word", its unit, the
    words allowed."""

    key: str
    kind: str
    unit: str = ""
    words: tuple[str, ...] = ()
    needed: bool = True


def asks(spring: str | None = None) -> list[Ask]:
    """Everything a corner's tables ask for, in the file's order; `spring` keeps one kind of spring."""
    out = []
    for table, field in Job.model_fields.items():
        if table in ("schema_", "name") or not field.is_required():
            continue
        kinds = [a for a in _options(field.annotation) if isinstance(a, type) and issubclass(a, BaseModel)]
        for model in kinds:
            kind = (
                next(iter(get_args(model.model_fields["kind"].annotation)), "")
                if "kind" in model.model_fields and len(kinds) > 1
                else ""
            )
            if spring is None or not kind or kind == spring:
                out += _asked(model, f"{table}" if not kind else f"{table} ({kind})")
    return out


def _options(annotation) -> tuple:
    origin = get_origin(annotation)
    if origin in (Union, UnionType):
        return get_args(annotation)
    return (annotation,)


def _asked(model: type[BaseModel], table: str) -> list[Ask]:
    out = []
    for key, f in model.model_fields.items():
        name, needed = f"{table}.{key}", f.is_required()
        inner = [
            m for a in get_args(f.annotation) for m in getattr(a, "__metadata__", ())
        ]  # a key that may be None keeps its rule inside
        rule = next((m for m in (*f.metadata, *inner) if isinstance(m, Coordinates | Quantity | Word)), None)
        if isinstance(rule, Coordinates):
            out.append(Ask(name, "point" if rule.unit == "mm" else "direction", rule.unit, needed=needed))
        elif isinstance(rule, Quantity):
            out.append(Ask(name, "number", rule.unit, needed=needed))
        elif isinstance(rule, Word):
            out.append(Ask(name, "word", words=rule.known if len(rule.known) <= 6 else (), needed=needed))
        elif isinstance(f.annotation, type) and issubclass(f.annotation, BaseModel):
            if needed:
                parts = _asked(f.annotation, name)
                if not any(a.needed for a in parts):  # one of its keys or another: the table itself is needed
                    out.append(Ask(name, "word", needed=True))
                out += parts
        elif key != "kind" and needed:
            out.append(Ask(name, "number", "mm"))
    return out


def write(path: Path, side: str = "left", paper: str = "A4") -> Path:
    """The sheet for one side of the car; drawn for A4 and fitted to the paper. Raises ValueError."""
    if paper not in PAPERS_MM:
        raise ValueError(f'paper is "{paper}"; known: {", ".join(PAPERS_MM)}')
    if side not in ("left", "right"):
        raise ValueError(f'side is "{side}"; it must be left or right')
    from reportlab.pdfgen.canvas import Canvas

    path.parent.mkdir(parents=True, exist_ok=True)
    (wide, high), a4 = PAPERS_MM[paper], PAPERS_MM["A4"]
    fit = min(wide / a4[0], high / a4[1])

    page = Canvas(str(path), pagesize=(wide * MM, high * MM), invariant=1)
    page.fit, page.shift = fit, (wide - fit * a4[0]) / 2 * MM  # of every page, by its head
    page.setTitle(f"Measuring sheet, {side}")
    page.setAuthor("rockershed")
    wanted = asks()
    points = [a for a in wanted if a.kind in ("point", "direction")]
    _first(page, side, points)
    _points(page, side, points)
    _values(page, side, [a for a in wanted if a.kind in ("number", "word")])
    page.save()
    return path


MM = 72 / 25.4


def _head(page, text: str) -> None:
    """Begins a page: A4 drawn as large as the paper takes it, and what it is."""
    page.translate(page.shift, 0)
    page.scale(page.fit, page.fit)
    page.setFont("Helvetica-Bold", 13)
    page.drawString(12 * MM, 282 * MM, text)


def _say(page, y: float, texts, size: float = 8, step: float = 4.2) -> float:
    from reportlab.lib.utils import simpleSplit

    page.setFont("Helvetica", size)
    for line in (line for t in texts for line in simpleSplit(t, "Helvetica", size, 186 * MM)):
        page.drawString(12 * MM, y * MM, line)
        y -= step
    return y


def _grid(
    page, x: float, y: float, widths, height: float, rows, size: float = 7.5, grey_first: bool = True
) -> float:
    """A ruled table from its top left corner; returns the y below it."""
    for i, row in enumerate(rows):
        at = x
        page.setFont("Helvetica-Bold" if i == 0 else "Helvetica", size)
        for w, cell in zip(widths, row, strict=True):
            if i == 0 and grey_first:
                page.setFillGray(0.92)
                page.rect(at * MM, (y - height) * MM, w * MM, height * MM, stroke=0, fill=1)
                page.setFillGray(0)
            page.setLineWidth(0.3)
            page.rect(at * MM, (y - height) * MM, w * MM, height * MM)
            page.drawString((at + 1) * MM, (y - height / 2 - 0.9) * MM, cell)
            at += w
        y -= height
    return y


def _first(page, side: str, points: list[Ask]) -> None:
    _head(page, f"Measuring sheet: {side} corner")
    y = _say(
        page,
        275,
        [
            "Axes: x forward, y left, z up; y = 0 is the car's middle, z = 0 the ground (the level table), x "
            "= 0 where you like. Millimetres.",
            f"The {side} side of the car has {'y above' if side == 'left' else 'y below'} 0. Every point is "
            f"the CENTRE of its joint: the middle of the ball, not the bolt's head or the bracket's face.",
            "Pose: car at ride height, driver aboard or his weight on the seat, tyres at pressure. Hold "
            "frame and upright there with blocks before the first tape goes on.",
            "Scribe five datum points or more on the table or frame that will not move again, not all in one "
            "plane, and measure them first.",
            "To each point: three tapes from three datum points, and a fourth as a spare. Flat triangles are "
            "bad: at the point no two tapes may stand closer than 30 deg or wider than 150 deg.",
            "Measure both sides. Differences to 2 mm are measuring, 5 mm is the frame.",
        ],
    )
    y = _grid(
        page,
        12,
        y - 1,
        (22, 34, 34, 34, 62),
        7,
        [("datum", "x", "y", "z", "what it is"), *((n, "", "", "", "") for n in "ABCDEF")],
    )
    y = _grid(
        page,
        12,
        y - 3,
        (60, 63, 63),
        7,
        [("wheel centre over ground then", "tape accuracy ± mm", "date, by whom"), ("", "", "")],
    )
    _sketch(page, y - 6, side, points)
    page.showPage()


def _sketch(page, top: float, side: str, points: list[Ask]) -> None:
    """The points of the starter corner by their numbers, seen from the front and from above."""
    job = Job.from_dict(tables_of(STARTER))
    job = job if job.corner.side == side else job.mirrored()
    places = {i: _place(job, a.key) for i, a in enumerate(points, 1) if a.kind == "point"}
    lines = [
        ("upper_arm.front_pivot", "upper_arm.outer_joint"),
        ("upper_arm.rear_pivot", "upper_arm.outer_joint"),
        ("lower_arm.front_pivot", "lower_arm.outer_joint"),
        ("lower_arm.rear_pivot", "lower_arm.outer_joint"),
        ("tie_rod.inner", "tie_rod.outer"),
        ("rod.outboard", "rod.inboard"),
        ("rod.inboard", "rocker.pivot"),
        ("rocker.pivot", "rocker.damper_eye"),
        ("rocker.damper_eye", "damper.chassis_eye"),
        ("wheel.centre", "wheel.contact"),
        ("upper_arm.outer_joint", "lower_arm.outer_joint"),
    ]
    for name, (u, v) in (
        (f"seen from the front, outboard to the {'right' if side == 'left' else 'left'}", (1, 2)),
        ("seen from above, forward is up", (1, 0)),
    ):
        xs, ys = [p[u] for p in places.values()], [p[v] for p in places.values()]
        scale = min(160 / (max(xs) - min(xs)), 62 / (max(ys) - min(ys)))
        sign = 1.0 if v == 2 else -1.0  # from above, forward up, the car's left is to the left

        def at(p, u=u, v=v, scale=scale, sign=sign, xs=xs, ys=ys, top=top):
            x = (p[u] - min(xs)) if sign > 0 else (max(xs) - p[u])
            return (16 + x * scale) * MM, (top - 6 - (max(ys) - p[v]) * scale) * MM

        page.setFont("Helvetica", 8)
        page.drawString(12 * MM, top * MM, name)
        page.setStrokeGray(0.55)
        page.setLineWidth(0.6)
        for a, b in lines:
            page.line(*at(_place(job, a)), *at(_place(job, b)))
        page.setStrokeGray(0)
        taken: list[tuple[float, float]] = []
        for i, p in places.items():
            x, y = at(p)
            page.circle(x, y, 1.6, stroke=1, fill=1)
            dots = [at(q) for q in places.values()]
            near = [
                (4.0, 3.0),
                (4.0, -9.0),
                (-12.0, 3.0),
                (-12.0, -9.0),
                *((4.0, 3.0 + 8 * k) for k in range(1, 9)),
            ]
            dx, dy = next(
                (
                    (dx, dy)
                    for dx, dy in near
                    if not any(abs(x + dx - q[0]) < 10 and abs(y + dy - q[1]) < 8 for q in taken)
                    and not any(abs(x + dx + 4 - q[0]) < 6 and abs(y + dy + 3 - q[1]) < 6 for q in dots)
                ),
                near[0],
            )
            taken.append((x + dx, y + dy))
            page.setFont("Helvetica-Bold", 8)
            page.drawString(x + dx, y + dy, str(i))
        top -= 76
    page.setFont("Helvetica-Oblique", 7)
    page.drawString(
        12 * MM,
        10 * MM,
        "The sketch is an invented corner with a pull rod; yours may look otherwise, its numbers mean the "
        "same joints. Numbers as on the next page.",
    )


def _place(job, key: str):
    value = job
    for part in key.split("."):
        value = getattr(value, part)
    return value


def _points(page, side: str, points: list[Ask]) -> None:
    other = "right" if side == "left" else "left"
    rows = [("no.", "key in the job file", "side", "x", "y", "z", "A", "B", "C", "D", "spare")]
    for i, a in enumerate(points, 1):
        rows.append((str(i), a.key, side, *("",) * 8))
        rows.append(("", WHERE.get(a.key, ""), other, *("",) * 8))
    widths = (8, 66, 12, *(12.5,) * 8)
    per_page = 2 * 18
    for start in range(1, len(rows), per_page):
        _head(page, f"Hard points: {side} corner, and the {other} one to compare")
        y = _say(
            page,
            276,
            [
                "Either x, y, z or tape distances (write which datum stands over A, B, C, D). A direction "
                "(axis): x, y, z of one end less the other."
            ],
        )
        _grid(page, 12, y, widths, 7, [rows[0], *rows[start : start + per_page]], 7)
        page.showPage()


def _values(page, side: str, values: list[Ask]) -> None:
    needed = [a for a in values if a.needed]
    more = [a for a in values if not a.needed]
    rows = [("key in the job file", "where to measure, or the words to choose from", "unit", "value")]
    rows += [
        (a.key, WHERE.get(a.key, WHERE.get(_plain(a.key), ", ".join(a.words))), a.unit, "") for a in needed
    ]
    _table(
        page, f"Sizes and masses: {side} corner", "All of these are needed; of the springs only yours.", rows
    )
    rows = [("key in the job file", "the job file has a default for it, printed as assumed", "unit", "value")]
    rows += [(a.key, ", ".join(a.words), a.unit, "") for a in more]
    _table(page, f"Worth measuring: {side} corner", "Left empty, the usual value is taken and said so.", rows)


def _plain(key: str) -> str:
    """spring (leaf-pack).length -> spring.length."""
    return key.split(" (")[0] + key.split(")")[-1] if " (" in key else key


def _table(page, title: str, said: str, rows) -> None:
    per_page = 40
    for start in range(1, len(rows), per_page):
        _head(page, title)
        y = _say(page, 276, [said])
        _grid(page, 12, y, (56, 78, 14, 38), 6.2, [rows[0], *rows[start : start + per_page]], 7)
        page.showPage()
