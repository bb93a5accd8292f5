"""Measuring hard points: tape distances from known datum points to coordinates, their spare's residual and
error, left against right.

Least squares on the distances (Gauss-Newton from the exact point of the first three); covariance σ²·(JᵀJ)⁻¹,
J the unit vectors along the tapes. Tape accuracy is ±, two standard deviations. A triangle whose angle at the
point is under 30° or over 150° multiplies the error by 1/sin of it. Lengths mm.
"""

from __future__ import annotations

import itertools
import math
from pathlib import Path

import numpy as np

from assemblies.job.sense import POINTS
from assemblies.job.toml_file import length, rows, tables
from assemblies.setup import words
from assemblies.tolerances.measuring_sheet import write
from parts.base.frozen import dataclass
from parts.shape.form import vector

TAPE_MM = 2.0  # ±, with tape and plumb bob, common practice
SPARE_MM = 2.0  # a spare distance that misses by more asks for a second measuring, common practice
BAD_ANGLE_DEG = 30.0  # and 180 less it
CLEAR = 1.5  # a tape is accused alone where without any other they disagree by so many times what tapes may
MEASURING_MM, FRAME_MM = (
    2.0,
    5.0,
)  # left/right differences: up to the first it is measuring, from the second the frame, common practice


@dataclass(frozen=True)
class Taped:
    """Points found (N, 3) from distances (N, m) to m datum points."""

    point: np.ndarray  # (N, 3)
    covariance: np.ndarray  # (N, 3, 3)
    residual_mm: np.ndarray  # (N, m) measured less fitted distance
    spare_mm: np.ndarray  # (N, m) measured distance less what the others say; NaN with three
    spare_sigma_mm: np.ndarray  # (N, m) what that may be by the tape alone
    angle_deg: np.ndarray  # (N, m, m) angle at the point between two tapes
    rms_mm: np.ndarray  # (N,) root mean square residual with m - 3 degrees of freedom; NaN with three

    @property
    def sigma_mm(self) -> np.ndarray:
        """(N, 3) of x, y, z."""
        return np.sqrt(np.diagonal(self.covariance, axis1=-2, axis2=-1))

    @property
    def worst_sigma_mm(self) -> np.ndarray:
        """(N,) along the direction that is known least."""
        return np.sqrt(np.linalg.eigvalsh(self.covariance)[..., -1])


def trilaterate(datums_mm, distances_mm, tape_mm: float = TAPE_MM, near_mm=None) -> Taped:
    """Points from three or more tape distances each.

    Three datum points see two points, mirrored in their plane: `near_mm` (N, 3) or (3,), a rough place,
    decides; a fourth datum out of that plane decides by itself. Raises ValueError for fewer than three, datum
    points in one line, distances that do not meet, or a choice that is open.
    """
    datums, distances = np.asarray(datums_mm, float), np.atleast_2d(np.asarray(distances_mm, float))
    count = len(datums)
    if datums.ndim != 2 or datums.shape[1] != 3 or count < 3:
        raise ValueError(
            f"trilateration needs three datum points or more; {count if datums.ndim == 2 else 0} given"
        )
    if distances.shape[1] != count:
        raise ValueError(f"{distances.shape[1]} distances for {count} datum points")
    if not (np.isfinite(distances).all() and (distances > 0).all() and np.isfinite(datums).all()):
        raise ValueError(f"distances are {distances.tolist()}; every one must be above 0 mm")
    if not tape_mm > 0:
        raise ValueError(f"tape_mm is {tape_mm}; it must be above 0")
    spread = np.linalg.svd(datums - datums.mean(0))[1]
    if spread[1] < 1e-3 * spread[0]:
        raise ValueError(
            "the datum points lie in one line: the point could be anywhere on a circle round it; add one "
            "beside the line"
        )
    a, b = _two_places(datums, distances)
    flat = spread[2] < 0.02 * spread[0]
    fits = [_polished(datums, distances, p) for p in (a, b)]
    if near_mm is not None:
        near = np.broadcast_to(np.asarray(near_mm, float), a.shape)
        second = np.linalg.norm(fits[1] - near, axis=-1) < np.linalg.norm(fits[0] - near, axis=-1)
    elif flat:
        apart = np.linalg.norm(fits[0] - fits[1], axis=-1)
        if (apart > tape_mm).any():
            i = int(np.argmax(apart))
            raise ValueError(
                f"the datum points lie in one plane, and two places fit: {_xyz(fits[0][i])} and "
                f"{_xyz(fits[1][i])}; say roughly where the point is (near = [x, y, z])"
            )
        second = np.zeros(len(a), bool)
    else:
        misses = [((np.linalg.norm(p[:, None] - datums, axis=-1) - distances) ** 2).sum(-1) for p in fits]
        second = misses[1] < misses[0]
    point = np.where(second[:, None], fits[1], fits[0])
    return _judged(datums, distances, point, tape_mm / 2)


def _two_places(datums, distances) -> tuple[np.ndarray, np.ndarray]:
    """The two points at the first three distances (of a triple that is not in line); on its plane where they
    do not quite meet."""
    triple = max(
        itertools.combinations(range(len(datums)), 3),
        key=lambda t: np.linalg.norm(np.cross(datums[t[1]] - datums[t[0]], datums[t[2]] - datums[t[0]])),
    )
    p0, p1, p2 = datums[list(triple)]
    r0, r1, r2 = distances[:, triple].T
    d = np.linalg.norm(p1 - p0)
    ex = (p1 - p0) / d
    i = ex @ (p2 - p0)
    ey = p2 - p0 - i * ex
    j = np.linalg.norm(ey)
    ey = ey / j
    x = (r0**2 - r1**2 + d * d) / (2 * d)
    y = (r0**2 - r2**2 + i * i + j * j - 2 * i * x) / (2 * j)
    left = r0**2 - x**2 - y**2
    if (left < -0.05 * r0**2).any():
        k = int(np.argmin(left / r0**2))
        raise ValueError(
            f"the distances {', '.join(f'{v:g}' for v in distances[k])} do not meet in one point: one of "
            f"them, or a datum point, is wrong"
        )
    z = np.sqrt(
        np.maximum(left, (0.02 * r0) ** 2 * (left < (0.02 * r0) ** 2))
    )  # off the plane, so that the search can leave it
    base = p0 + x[:, None] * ex + y[:, None] * ey
    ez = np.cross(ex, ey)
    return base + z[:, None] * ez, base - z[:, None] * ez


def _polished(datums, distances, start) -> np.ndarray:
    """Gauss-Newton on all distances (N, M), halved where it does not gain (Levenberg's damping near the
    datums' plane); datums (M, 3), or (N, M, 3) where each place has its own."""
    p, damping = start.copy(), np.full(len(start), 1e-9)
    for _ in range(60):
        line = p[:, None] - datums
        length = np.linalg.norm(line, axis=-1)
        jac = line / length[..., None]
        miss = distances - length
        normal = np.einsum("nmi,nmj->nij", jac, jac) + damping[:, None, None] * np.eye(3)
        step = np.linalg.solve(normal, np.einsum("nmi,nm->ni", jac, miss)[..., None])[..., 0]
        better = ((np.linalg.norm(p[:, None] + step[:, None] - datums, axis=-1) - distances) ** 2).sum(
            -1
        ) <= (miss**2).sum(-1) + 1e-18
        p = np.where(better[:, None], p + step, p)
        damping = np.where(better, damping * 0.1, np.maximum(damping, 1e-6) * 10)
        if (np.abs(step).max(-1) < 1e-10).all():
            break
    return p


def _judged(datums, distances, point, sigma: float) -> Taped:
    line = point[:, None] - datums
    length = np.linalg.norm(line, axis=-1)
    jac = line / length[..., None]
    info = np.einsum("nmi,nmj->nij", jac, jac)
    covariance = sigma**2 * np.linalg.pinv(info, rcond=1e-12, hermitian=True)
    residual = distances - length
    count = len(datums)
    hat = np.einsum("nmi,nij,nmj->nm", jac, covariance / sigma**2, jac)
    own, own_sigma = np.full_like(distances, np.nan), np.full_like(distances, np.nan)
    with np.errstate(divide="ignore", invalid="ignore"):
        if count > 3:  # the place that the others give, and what each tape misses there
            others = np.array([[k for k in range(count) if k != i] for i in range(count)])
            each = np.broadcast_to(datums[others], (len(point), *others.shape, 3)).reshape(-1, count - 1, 3)
            starts = np.repeat(point, count, axis=0)
            alone = _polished(each, distances[:, others].reshape(-1, count - 1), starts)
            own = distances - np.linalg.norm(alone.reshape(-1, count, 3) - datums, axis=-1)
            own_sigma = sigma / np.sqrt(1 - hat)
        rms = np.sqrt((residual**2).sum(-1) / (count - 3)) if count > 3 else np.full(len(point), np.nan)
    angle = np.degrees(np.arccos(np.clip(np.einsum("nmi,nki->nmk", jac, jac), -1, 1)))
    return Taped(point, covariance, residual, own, own_sigma, angle, rms)


@dataclass(frozen=True)
class Point:
    """One point as measured: place, ± of each coordinate (two standard deviations), and what is to be said
    about it."""

    name: str
    side: str
    place_mm: tuple[float, float, float]
    sure_mm: tuple[float, float, float] | None = None
    spare: tuple[str, float, float] | None = (
        None  # tape, measured less what the others say, and what the tape alone may do
    )
    remarks: tuple[str, ...] = ()

    @property
    def bad(self) -> bool:
        return any(r.startswith("measure again") for r in self.remarks)


@dataclass(frozen=True)
class Average:
    """Left and right of one point: their mean as a left-hand point, and left less right (the right
    mirrored)."""

    name: str
    place_mm: tuple[float, float, float]
    difference_mm: tuple[float, float, float]
    remark: str


@dataclass(frozen=True)
class Measured:
    points: tuple[Point, ...]
    averages: tuple[Average, ...]


def averaged(left_mm, right_mm) -> tuple[np.ndarray, np.ndarray]:
    """Mean of left points and mirrored right points (..., 3), and left less right; y changes sign in the
    mirror.

    >>> mean, difference = averaged([100, 351, 200], [102, -349, 200])
    >>> mean.tolist(), difference.tolist()
    ([101.0, 350.0, 200.0], [-2.0, 2.0, 0.0])
    """
    left, right = np.asarray(left_mm, float), np.asarray(right_mm, float) * [1, -1, 1]
    return (left + right) / 2, left - right


def taped_point(
    name: str,
    side: str,
    datums: dict[str, tuple],
    distances: dict[str, float],
    tape_mm: float = TAPE_MM,
    near_mm=None,
) -> Point:
    """One point with its flags. Raises ValueError naming the point."""
    unknown = set(distances) - set(datums)
    if unknown:
        raise ValueError(
            f"{name}, {side}: datum {', '.join(sorted(unknown))} is not given; known: {', '.join(datums)}"
        )
    names = list(distances)
    try:
        t = trilaterate([datums[n] for n in names], [[distances[n] for n in names]], tape_mm, near_mm)
    except ValueError as e:
        raise ValueError(f"{name}, {side}: {e}") from e
    remarks, spare = [], None
    if len(names) > 3:
        i = int(np.nanargmax(np.abs(t.spare_mm[0]) / t.spare_sigma_mm[0]))
        spare = (names[i], float(t.spare_mm[0, i]), float(2 * t.spare_sigma_mm[0, i]))
        if abs(spare[1]) > max(SPARE_MM, spare[2]):
            remarks.append(f"measure again: {_whose(names, datums, distances, tape_mm, t)}")
    else:
        remarks.append("no spare distance: nothing checks this point")
    for i, j in itertools.combinations(range(len(names)), 2):
        angle = float(t.angle_deg[0, i, j])
        if angle < BAD_ANGLE_DEG or angle > 180 - BAD_ANGLE_DEG:
            remarks.append(
                f"bad triangle {names[i]}-{names[j]}: {angle:.0f} deg at the point multiplies the error by "
                f"{1 / max(math.sin(math.radians(angle)), 0.01):.1f}"
            )
    worst = float(2 * t.worst_sigma_mm[0])
    if worst > 2 * tape_mm:
        remarks.append(
            f"measure again: ±{worst:.1f} mm in one direction from tapes good to ±{tape_mm:g}; take a datum "
            f"point further out of their plane or line"
        )
    return Point(name, side, vector(t.point[0]), vector(2 * t.sigma_mm[0]), spare, tuple(remarks))


def _whose(names: list[str], datums, distances, tape_mm: float, t: Taped) -> str:
    """Which tape is wrong where they do not agree: the one without which all the others do. Four tapes have
    one spare distance, and any of the four explains it alike."""
    off = {n: float(x) for n, x in zip(names, t.spare_mm[0], strict=True)}
    if len(names) == 4:
        each = ", ".join(f"{n} by {x:+z.1f}" for n, x in off.items())
        return (
            f"the tapes do not agree, and four cannot tell which is wrong ({each} mm, if it alone is): take "
            f"all four again, or a fifth from another datum point"
        )
    off_by = {}  # how badly the others disagree without a tape; 1 is as much as tapes may
    for n in names:
        rest = [k for k in names if k != n]
        at, tapes = np.array([datums[k] for k in rest], float), np.array([[distances[k] for k in rest]])
        left = _judged(at, tapes, _polished(at, tapes, t.point), tape_mm / 2)
        off_by[n] = float((np.abs(left.spare_mm) / np.maximum(SPARE_MM, 2 * left.spare_sigma_mm)).max())
    guilty = [n for n, x in off_by.items() if x <= CLEAR]
    if not guilty or min(off_by.values()) > 1:
        return "more than one tape is wrong, or a datum point: take all again"
    if len(guilty) == 1:
        return f"tape {guilty[0]} is {off[guilty[0]]:+z.1f} mm off what the others say, and they agree"
    each = " or ".join(f"{n} ({off[n]:+z.1f} mm)" for n in guilty)
    return f"tape {each} is wrong, it cannot be told which: take these again, or one from another datum point"


def averages(points) -> tuple[Average, ...]:
    """Of every point that was measured on both sides."""
    by = {(p.name, p.side): p for p in points}
    out = []
    for (name, side), p in by.items():
        other = by.get((name, "right"))
        if side != "left" or other is None:
            continue
        mean, difference = averaged(p.place_mm, other.place_mm)
        most = float(np.abs(difference).max())
        remark = (
            "as good as measuring gets"
            if most <= MEASURING_MM
            else "measure both again"
            if most < FRAME_MM
            else "the frame is not symmetrical there, or one reading is wrong"
        )
        out.append(Average(name, vector(mean), vector(difference), remark))
    return tuple(out)


def read(path: str | Path) -> Measured:
    """Points from TOML: tape_accuracy, [datum] name = [x, y, z], [[point]] name, side, and at = [x, y, z] or
    distances = {A = ...}.

    Raises ValueError naming what is wrong."""

    given = tables(path)
    _known(path, given, {"tape_accuracy", "datum", "point"}, "the file")
    if not isinstance(given.get("datum", {}), dict):
        raise ValueError(f"{path}: datum must be a table; write [datum] with A = [x, y, z] below")
    datums = {
        _name(path, k, "a datum"): _three(path, v, f"datum.{k}") for k, v in given.get("datum", {}).items()
    }
    tape = length(path, "tape_accuracy", given.get("tape_accuracy", TAPE_MM))
    points = []
    for i, row in enumerate(rows(path, given, "point"), 1):
        _known(path, row, {"name", "side", "at", "distances", "near"}, f"point {i}")
        name, side = _name(path, row.get("name", f"point {i}"), f"point {i}, name"), row.get("side", "left")
        if side not in ("left", "right"):
            raise ValueError(f'{name}: side is "{side}"; it must be left or right')
        if ("at" in row) == ("distances" in row):
            raise ValueError(
                f"{name}, {side}: give either at = [x, y, z] or distances = {{A = ..., B = ..., C = ...}}"
            )
        if "at" in row:
            points.append(Point(name, side, _three(path, row["at"], name)))
        elif not isinstance(row["distances"], dict):
            raise ValueError(
                f"{name}, {side}: distances must be a table, such as {{A = 500, B = 610, C = 720}}"
            )
        else:
            near = _three(path, row["near"], f"{name}.near") if "near" in row else None
            tapes = {k: length(path, f"{name}, tape {k}", v) for k, v in row["distances"].items()}
            points.append(taped_point(name, side, datums, tapes, tape, near))
    twice = [k for k in {(p.name, p.side) for p in points} if sum((p.name, p.side) == k for p in points) > 1]
    if twice:
        raise ValueError(f"{twice[0][0]}, {twice[0][1]}: given twice")
    return Measured(tuple(points), averages(points))


def _known(path, table: dict, keys: set[str], where: str) -> None:
    extra = set(table) - keys
    if extra:
        raise ValueError(
            f"{path}: unknown key {', '.join(sorted(extra))} in {where}; known: {', '.join(sorted(keys))}"
        )


def _name(path, given, where: str) -> str:
    if not isinstance(given, str) or not given.isprintable() or not given.strip():
        raise ValueError(f"{path}: {where} is {given!r}; it must be one line of printable text in quotes")
    return given


def _three(path, value, name: str) -> tuple[float, float, float]:
    if not isinstance(value, list | tuple) or len(value) != 3:
        split = isinstance(value, list | tuple) and 3 < len(value) <= 6
        hint = "; decimal commas? write each number with a point, such as 12.5" if split else ""
        raise ValueError(f"{path}: {name} is {value!r}; it must be [x, y, z]{hint}")
    return vector([length(path, f"{name}, {axis}", v) for axis, v in zip("xyz", value, strict=True)])


def _xyz(p) -> str:
    return "(" + ", ".join(f"{v:.0f}" for v in p) + ")"


def side_of(m: Measured) -> str:
    """The corner that was measured: right where nothing was measured on the left."""
    return "right" if m.points and all(p.side == "right" for p in m.points) else "left"


def lines(m: Measured, side: str | None = None) -> list[tuple[str, list[str]]]:
    """Blocks of text for the terminal, the last one to paste into the job file of a corner of that side."""
    side = side or side_of(m)

    rows = [
        [
            p.name,
            p.side,
            *(f"{v:.1f}" for v in p.place_mm),
            *(("-",) * 3 if p.sure_mm is None else (f"±{v:.1f}" for v in p.sure_mm)),
            "-" if p.spare is None else f"{p.spare[0]} {p.spare[1]:+z.1f} (±{p.spare[2]:.1f})",
        ]
        for p in m.points
    ]
    blocks = [
        (
            "",
            words.table(["point", "side", "x", "y", "z", "", "", "", "spare tape"], rows)
            if rows
            else ["  no points"],
        ),
        ("Look at", [f"  {p.name}, {p.side}: {r}" for p in m.points for r in p.remarks]),
    ]
    if m.averages:
        rows = [
            [a.name, *(f"{v:.1f}" for v in a.place_mm), *(f"{v:+z.1f}" for v in a.difference_mm), a.remark]
            for a in m.averages
        ]
        blocks.append(
            (
                "Left and mirrored right averaged (as left points), and left less right",
                words.table(["point", "x", "y", "z", "dx", "dy", "dz", ""], rows),
            )
        )
    blocks.append(
        (
            f"For the job file of the {side} corner (measure FILE --into JOB writes them there)",
            _block(_on(m, side)),
        )
    )
    return blocks


def _block(places) -> list[str]:
    """Points as a job file has them, table by table; those of other names as they are."""
    out: list[str] = []
    tables_: dict[str, list[str]] = {}
    for name, place in places.items():
        table, _, key = name.rpartition(".")
        tables_.setdefault(table, []).append(f"  {key} = [{', '.join(f'{v:.1f}' for v in place)}]")
    for table, rows_ in tables_.items():
        out += [*([f"  [{table}]"] if table else []), *rows_]
    return out


def for_job(m: Measured, side: str) -> dict[str, list[float]]:
    """The measured places by the keys of a job of this side, left and right averaged where both were
    measured.
    Raises ValueError for a point whose name is no key of a job."""
    found = _on(m, side)
    for name in found:
        if name not in POINTS:
            raise ValueError(f'the point "{name}" is no key of a job; known: {", ".join(POINTS)}')
    return found


def _on(m: Measured, side: str) -> dict[str, list[float]]:
    """The places on one side of the car, those of the other mirrored, those of both averaged."""
    found = {p.name: (p.place_mm, p.side) for p in m.points} | {
        a.name: (a.place_mm, "left") for a in m.averages
    }
    return {
        name: [
            round(float(v) * (-1.0 if i == 1 and of != side else 1.0), 1) + 0.0 for i, v in enumerate(place)
        ]
        for name, (place, of) in found.items()
    }


def sheet(path: Path, side: str = "left", paper: str = "A4") -> Path:
    """The measuring sheet as PDF."""
    return write(path, side, paper)
