"""The job file: TOML, or a dict from a script, read into one frozen `Job`, or one `JobError` that lists every
problem.

    job = load("assemblies/jobs/heronbank-front.toml")
    thicker = job.changed({"rocker.plate_thickness": "1/8 in", "upper_arm.outer_joint": [1745, 680, 352]})

Lengths mm, angles deg, masses kg; axes of ISO 8855, all points at ride height. Nothing is assumed in silence:
`job.assumed` lists every default taken and why. What a sound job may still do wrong (a damper that is too
short at ride height, say) is a finding of the later stages, not an error here.
"""

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

import numpy as np
from pydantic import AfterValidator

from assemblies.job import frame as there
from assemblies.job import stock as shop
from assemblies.job.car import Car, car_of_corner
from assemblies.job.corner import (
    CornerTable,
    DamperTable,
    LowerArm,
    Rocker,
    RodTable,
    TieRod,
    UpperArm,
    WheelTable,
    eye_in_box,
)
from assemblies.job.cutting import Prices, Process
from assemblies.job.file import File, tables_of
from assemblies.job.frame_job import FrameJob
from assemblies.job.gaps import ClearanceTable
from assemblies.job.link import LinkTable
from assemblies.job.loads import Bolts, Fatigue, LoadCaseTable, LoadsTable
from assemblies.job.pivot import NO_MOUNT, Pivot
from assemblies.job.point_checks import heading
from assemblies.job.rack import RackTable, steered_by
from assemblies.job.spring import CoilOver, LeafPackTable, SolidBar, Spring, SpringTube
from assemblies.job.stops import BumpStop, DroopStrap
from assemblies.job.values import Later, assume
from parts.shape.form import vector

STARTER = Path(__file__).with_name("starter.toml")


class Job(File):
    """One corner. Equal by content, hashable, never changed: `changed` and `mirrored` give new jobs."""

    corner: CornerTable
    wheel: WheelTable
    upper_arm: UpperArm
    lower_arm: LowerArm
    rack: Later[RackTable] | None = assume(None, "no rack given: its travel is tie_rod.rack_travel")
    tie_rod: Annotated[TieRod, AfterValidator(steered_by)]
    rod: RodTable
    rocker: Rocker
    spring: Spring
    damper: Annotated[DamperTable, AfterValidator(eye_in_box)]
    bump_stop: BumpStop | None = assume(None, "nothing stops the wheel in bump but the damper's metal")
    droop_strap: DroopStrap | None = assume(None, "nothing holds the wheel in droop but the damper")
    pivot: Pivot = assume({}, NO_MOUNT)
    car: Annotated[Car, AfterValidator(car_of_corner)] = assume({}, "a small car, from this corner")
    clearance: ClearanceTable = assume({}, "usual gaps")
    node: tuple[Later[there.NodeTable], ...] = assume((), "no named nodes: each tube says its own ends")
    group: tuple[Later[there.Group], ...] = assume((), "nothing is moved as one")
    member: tuple[there.Member, ...] = assume(
        (), "no frame members given: the parts are checked against each other only"
    )
    junction: tuple[Later[there.Junction], ...] = assume(
        (), "tubes that pass go first, then the larger, then the longer"
    )
    frame: there.FrameTable = assume({}, "usual joints")
    hose: tuple[Later[there.HoseTable], ...] = assume((), "no hoses given")
    link: tuple[Later[LinkTable], ...] = assume((), "no half shaft or other body between two bodies given")
    stock: shop.StockTable = assume({}, "no stock given")
    process: Process = assume({}, "usual cutting")
    nest: Later[shop.NestingTable] | None = assume(None, shop.USUAL_NESTING)
    loads: LoadsTable = assume({}, "usual loads")
    prices: Later[Prices] | None = assume(None, "no prices given: no cost")
    load_case: tuple[Later[LoadCaseTable], ...] = assume((), "no load cases besides the usual ones")
    bolts: Bolts = assume({}, "usual bolts")
    fatigue: Fatigue = assume({}, "usual life")

    def mirrored(self) -> "Job":
        """The same corner on the other side of the car, under the same name.

        Points turn the sign of y. An axis of rotation is an axial vector: with M = diag(1, -1, 1),
        M·R(a, θ)·M = R(-M·a, θ), so the axis becomes (-x, y, -z) and a rocker angle keeps its sign. A
        member's roll, right-handed about from → to, which is mirrored as a plain direction, turns its sign
        for the same reason; so does a moment. A STEP file's solids become their mirror images, p → R·p + at
        becomes M·R·M·(M·p) + M·at: turns about x and z change sign."""
        written = self.to_dict()
        written["corner"]["side"] = "right" if self.corner.side == "left" else "left"
        for key in ("wheel", "upper_arm", "lower_arm", "tie_rod", "rod", "rocker", "damper"):
            _mirror_points(written[key])
        if "rack" in written:
            rack = written["rack"]
            _mirror_points(rack)
            for part in (*rack.get("ear", ()), *([rack["pinion"]] if rack.get("pinion") else ())):
                size = part.pop("size", None)
                _mirror_points(part)
                part |= {"size": size} if size is not None else {}
        x, y, z = self.rocker.axis
        written["rocker"]["axis"] = [0.0 - x, y, 0.0 - z]
        for member in written.get("member", ()):
            size = member.pop("size", None)
            _mirror_points(member)
            member |= {"size": size} if size is not None else {}
            member |= {"roll": 0.0 - member["roll"]} if "roll" in member else {}
            if member["shape"] == "step":
                x, y, z = member.pop("turn", (0.0, 0.0, 0.0))  # the loop above took it for a point
                member |= {"turn": [0.0 - x, 0.0 - y, 0.0 - z], "mirrored": not member.get("mirrored", False)}
        straps = [written["droop_strap"]] if "droop_strap" in written else []
        named = [t for k in ("hose", "link", "junction", "node", "group") for t in written.get(k, ())]
        for table in (*named, *straps):
            _mirror_points(table)
        for case in written.get("load_case", ()):
            moment = case.pop("moment", None)
            _mirror_points(case)
            case |= {"moment": [0.0 - moment[0], moment[1], 0.0 - moment[2]]} if moment else {}
        return Job.from_dict(written)

    @property
    def side(self) -> str:
        return self.corner.side

    @property
    def torsion(self) -> LeafPackTable | SolidBar | SpringTube:
        """The spring of a corner that has one on the rocker's axis. Raises TypeError for a coil-over."""
        if isinstance(self.spring, CoilOver):
            raise TypeError("a coil-over is no torsion spring")
        return self.spring

    @property
    def coil(self) -> CoilOver:
        """The spring of a corner with a coil-over. Raises TypeError for a torsion spring."""
        if not isinstance(self.spring, CoilOver):
            raise TypeError("a torsion spring is no coil-over")
        return self.spring

    @property
    def spring_direction(self) -> tuple[float, float, float]:
        """Unit vector along the rocker's axis from the rocker towards a rotary spring's fixed end."""
        axis = np.array(self.rocker.axis) / np.linalg.norm(self.rocker.axis)
        sign = np.sign(axis @ heading(getattr(self.spring, "towards", "rear"), self.corner.side)) or 1.0
        return vector(sign * axis + 0.0)


def load(path: str | Path) -> Job | FrameJob:
    """Read a job file; one with members and no table of a corner is a frame. Raises JobError for a file
    that is missing, is not TOML, or holds a job that cannot be used."""
    given = tables_of(path)
    return (FrameJob if is_frame(given) else Job).from_dict(given)


def is_frame(given: Mapping[str, Any]) -> bool:
    """Whether the tables describe members and nothing of a corner."""
    corner = {f.alias or k for k, f in Job.model_fields.items()} - {
        f.alias or k for k, f in FrameJob.model_fields.items()
    }
    return "member" in given and not corner & given.keys()


def starter() -> str:
    """Text of a commented job file to start from."""
    return STARTER.read_text(encoding="utf-8")


def _mirror_points(table: dict[str, Any]) -> None:
    for key, v in table.items():
        if isinstance(v, list) and len(v) == 3 and not any(isinstance(x, str) for x in v):  # no names
            table[key] = [v[0], 0.0 - v[1], v[2]]


def demo(name: str) -> Path:
    """The file of a demo job, wherever the project is installed, by its name, such as "heronbank-front".

    Raises ValueError with the names there are."""
    jobs = Path(__file__).parent.parent / "jobs"
    known = sorted(p.stem for p in jobs.glob("*.toml"))
    if name not in known:
        raise ValueError(f"name is {name!r}; the demo jobs are {', '.join(known)}")
    return jobs / f"{name}.toml"
