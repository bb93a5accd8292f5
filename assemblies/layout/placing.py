"""What has a place in the corner: placed forms, blanks to cut, brackets on their members; filled room by room
by `layout`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from assemblies.job import Job
from assemblies.layout.junctions import Junctions
from assemblies.results.findings import Finding
from parts.bracket import NoSeat
from parts.damper import Damper
from parts.files.imported import Imported
from parts.member import Member
from parts.rocker import BoxedRocker, LocalEyes
from parts.rod import Rod
from parts.rod_lug import RodLug
from parts.shape.form import Form, Frame, Vector
from parts.shape.outline import Outline

SWING_MARGIN_MM = 3.0  # round a joint between the plates: flex and paint, common practice


@dataclass(frozen=True)
class Placed:
    """A form that stands somewhere in the car: `frame` takes its own axes to the car's at ride height.

    `body` is its name in the results (rocker, rod, damper ...; a member's or bracket's own name), `carrier`
    the rigid motion it follows ("frame": none). `part` is the parameter set, None for a mere envelope;
    `count` alike in a corner."""

    name: str
    body: str
    carrier: str
    form: Form | Imported
    frame: Frame
    part: Any = None
    material: str = ""
    mass_kg: float | None = None
    centroid: Vector = (0.0, 0.0, 0.0)  # in the part's own axes

    @property
    def in_car(self) -> Form:
        return self.form.moved(self.frame)

    @property
    def centre_of_gravity_mm(self) -> Vector:
        """Car axes, at ride height."""
        return tuple(map(float, (self.frame.matrix() @ (*self.centroid, 1.0))[:3]))


@dataclass(frozen=True)
class FlatPart:
    """A blank to cut for one corner: its outline as it is drawn for this side, how many, of what."""

    name: str
    outline: Outline
    count: int
    thickness_mm: float
    material: str


@dataclass(frozen=True)
class Seat:
    """A bracket and the member that carries it; the joint's zone is `radius_mm` round `point`."""

    bracket: str
    member: str
    body: str
    point: Vector
    radius_mm: float


@dataclass
class Layout:
    """Everything of one corner that has a shape."""

    job: Job
    placed: list[Placed] = field(default_factory=list)
    flat: list[FlatPart] = field(default_factory=list)
    seats: list[Seat] = field(default_factory=list)
    members: dict[str, Member] = field(default_factory=dict)
    junctions: Junctions = field(default_factory=Junctions)  # where members meet, and their ends as cut
    findings: list[Finding] = field(default_factory=list)
    rocker: BoxedRocker | None = None
    eyes: LocalEyes | None = None
    rod: Rod | None = None
    lug: RodLug | None = None  # of the rod, on its arm
    damper: Damper | None = None
    sleeve: Any = None
    slack_rocker_deg: float | None = (
        None  # where a rotary spring carries nothing: its far end is clocked to it
    )

    def attempt(self, where: str, make: Callable[[], None]) -> None:
        """Run one room; a ValueError of a part's own rules becomes a stop finding."""
        try:
            make()
        except NoSeat as e:
            self.findings.append(
                Finding(
                    level="stop" if self.members else "warn",
                    code="no-seat",
                    where=where,
                    text=(
                        f"{e}."
                        if self.members
                        else f"No frame member is given, so the {where} has nothing to sit on and is not "
                        f"drawn: add [[member]] tables."
                    ),
                )
            )
        except ValueError as e:
            self.findings.append(
                Finding(
                    level="stop", code="part", where=where, text=f"This part cannot be made as asked: {e}."
                )
            )


def put(
    out: Layout,
    name: str,
    body: str,
    carrier: str,
    form: Form | Imported,
    frame: Frame,
    part: Any = None,
    material: str = "",
    centroid: Vector | None = None,
    mass_kg: float | None = None,
) -> None:
    """Place a form; mass and centre of gravity are the part's own unless given."""
    out.placed.append(
        Placed(
            name,
            body,
            carrier,
            form,
            frame,
            part,
            material,
            mass_kg or getattr(part, "mass_kg", None),
            tuple(centroid or getattr(part, "centroid", (0.0, 0.0, 0.0))),
        )
    )
