"""What has a place in the corner: placed forms, blanks to cut, brackets on their members; filled room by room
by `layout`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import field, replace
from typing import Any, Generic, TypeVar

from assemblies.job import Job
from assemblies.layout.account import FlatPart, FromPlate, Seam, Seams, Source, Strength, Weld
from assemblies.layout.junctions import Junctions
from assemblies.layout.made import Made
from assemblies.layout.pivot_mount import PivotMount
from assemblies.results.faults import cannot, needed
from assemblies.results.findings import Finding
from parts.adjuster_sleeve import AdjusterSleeve
from parts.anchor_plates import AnchorPlates
from parts.arm import Arm
from parts.base.frozen import dataclass
from parts.bracket import NoSeat
from parts.damper import Damper
from parts.fastener import BoltAndNut
from parts.files.imported import Imported
from parts.member import Member
from parts.rack_extension import RackExtension
from parts.rocker import BoxedRocker, LocalEyes
from parts.rocker_plate import RockerPlate
from parts.rod import Rod
from parts.rod_lug import LugFin, LugSleeve, RodLug
from parts.shape.form import Form, Frame, Vector, vector
from parts.spring_pack import LeafPack, TorsionBar
from parts.spring_socket import SpringSocket
from parts.tab import Tab
from parts.wheel import Wheel

__all__ = ["SWING_CUT_MM", "SWING_MARGIN_MM", "FlatPart", "Layout", "Placed", "Seat", "needed", "put"]

SWING_MARGIN_MM = 3.0  # round a joint: flex, paint and a weld's toe, common practice
SWING_CUT_MM = SWING_MARGIN_MM + 0.2  # parts are made to keep it with a little to spare
Part = TypeVar("Part", covariant=True)
Given = TypeVar("Given")


@dataclass(frozen=True)
class Placed(Generic[Part]):
    """A form that stands somewhere in the car: `frame` takes its own axes to the car's at ride height.

    `body` is its name in the results (rocker, rod, damper ...; a member's or bracket's own name), `carrier`
    the rigid motion it follows ("frame": none). `part` is the parameter set, None for a mere envelope.
    `source`, `weld`, `strength`: see `account`."""

    name: str
    body: str
    carrier: str
    form: Form | Imported
    frame: Frame
    part: Part
    source: Source
    weld: Weld
    strength: Strength
    material: str = ""
    mass_kg: float | None = None
    centroid: Vector = (0.0, 0.0, 0.0)  # in the part's own axes

    @property
    def own_form(self) -> Form:
        """The form of anything but a neighbour from a STEP file. Raises TypeError for that."""
        if isinstance(self.form, Imported):
            raise TypeError(f"{self.name} is read from {self.form.path}: it has no form")
        return self.form

    @property
    def in_car(self) -> Form:
        return self.own_form.moved(self.frame)

    @property
    def centre_of_gravity_mm(self) -> Vector:
        """Car axes, at ride height."""
        x, y, z, _ = self.frame.matrix() @ (*self.centroid, 1.0)
        return float(x), float(y), float(z)


@dataclass(frozen=True)
class Seat:
    """A bracket: its two tabs along the bolt, and the member that carries it; the joint's zone is `radius_mm`
    round `point`."""

    bracket: str
    member: str
    body: str
    point: Vector
    radius_mm: float
    tabs: tuple[Placed[Tab], Placed[Tab]]


@dataclass
class Layout:
    """Everything of one corner that has a shape: what is placed, by what it is. None or empty where it could
    not be made or the job has none. The order in which parts are placed means nothing."""

    job: Job
    slack_rocker_deg: float | None = None  # where a rotary spring carries nothing: its far end is clocked so
    placed: list[Placed[Any]] = field(default_factory=list)  # all, as drawn and listed
    flat: list[FlatPart] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    # the frame and what stands near
    members: dict[str, Member] = field(default_factory=dict)  # fixed tubes, as the job gives them
    junctions: Junctions = field(default_factory=Junctions)  # where members meet, and their ends as cut
    # the rocker
    rocker: BoxedRocker | None = None
    eyes: LocalEyes | None = None
    rocker_plates: tuple[Placed[RockerPlate], Placed[RockerPlate]] | None = None  # at +z, at -z
    # rods, damper, wheel
    rod_placed: Placed[Rod] | None = None
    tie_rod: Placed[None] | None = None
    rack_extension: Placed[RackExtension] | None = None
    damper_body: Placed[Damper] | None = None
    damper_shaft: Placed[Damper] | None = None
    wheel: Placed[Wheel] | None = None
    # arms, and what carries the rod on one of them
    arms: dict[str, Placed[Arm]] = field(default_factory=dict)  # upper_arm, lower_arm
    lug: RodLug | None = None
    lug_sleeves: tuple[Placed[LugSleeve], ...] = ()
    lug_fins: tuple[Placed[LugFin], ...] = ()
    # the spring and what turns or holds its ends
    coil: Placed[None] | None = None
    sleeve_inner: Placed[AdjusterSleeve] | None = None
    sleeve_outer: Placed[AdjusterSleeve] | None = None
    pack: Placed[LeafPack | TorsionBar] | None = None
    socket: Placed[SpringSocket] | None = None
    anchor_socket: Placed[SpringSocket] | None = None
    anchor_plates: tuple[Placed[AnchorPlates], Placed[AnchorPlates]] | None = None  # turning, fixed
    housing: Placed[Member] | None = None
    # what holds it all
    pivot: PivotMount | None = None  # what the rocker's pivot stands on
    brackets: dict[str, Seat] = field(default_factory=dict)
    bolts: list[Placed[BoltAndNut]] = field(default_factory=list)
    made: Made = field(default_factory=Made)  # parts made before in this study, by what they are made of
    taken: set[str] = field(init=False)  # names of what is placed
    # what each thing placed is split into (`bodies.split`), by name: it hangs on that thing, the job and the
    # junctions, so it stays while more is placed
    split: dict[str, tuple[Placed[Any], dict[str, Form]]] = field(
        init=False, default_factory=dict, repr=False
    )
    _known: dict[Callable[[Layout], Any], Any] | None = field(init=False, default=None, repr=False)

    def __post_init__(self) -> None:
        self.taken = {p.name for p in self.placed}

    def is_whole(self) -> None:
        """Nothing more is placed: from now on what hangs on the layout alone is worked out once."""
        self._known = {}

    def once(self, make: Callable[[Layout], Given]) -> Given:
        """`make` of this layout; of a whole one it is made once, and whoever gets it leaves it as it is."""
        if self._known is None:
            return make(self)
        if make not in self._known:
            self._known[make] = make(self)
        return self._known[make]

    @property
    def pivot_bore_mm(self) -> float | None:
        """Of the rocker's pivot tube."""
        return self.rocker.tube.outer_mm - 2 * self.rocker.tube.wall_mm if self.rocker else None

    @property
    def rod(self) -> Rod | None:
        return self.rod_placed.part if self.rod_placed else None

    @property
    def damper(self) -> Damper | None:
        return self.damper_body.part if self.damper_body else None

    @property
    def sleeve(self) -> AdjusterSleeve | None:
        return self.sleeve_outer.part if self.sleeve_outer else None

    @property
    def anchor(self) -> AnchorPlates | None:
        return self.anchor_plates[0].part if self.anchor_plates else None

    @property
    def rod_arm(self) -> Placed[Arm] | None:
        """The arm that carries the rod's outboard end; None where the upright does."""
        return self.arms.get(self.job.rod.on)

    @property
    def seats(self) -> list[Seat]:
        return list(self.brackets.values())

    @property
    def seams(self) -> list[Seam]:
        """Every weld that is not in the rocker's numbered plan."""
        return [s for p in self.placed if isinstance(p.weld, Seams) for s in p.weld.seams]

    def attempt(self, where: str, make: Callable[[], None]) -> None:
        """Run one room; what a part refuses by its own rules becomes a stop finding, a slip of this program a
        stop that says so. Either way the rest goes on."""
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
        except Exception as e:
            self.findings.append(cannot(where, e))


Of = TypeVar("Of")


def put(  # noqa: PLR0913  # all that a part answers for, by name
    out: Layout,
    name: str,
    body: str,
    carrier: str,
    form: Form | Imported,
    frame: Frame,
    part: Of,
    *,
    source: Source,
    weld: Weld,
    strength: Strength,
    material: str = "",
    centroid: Vector | None = None,
    mass_kg: float | None = None,
    weighed: bool = True,
) -> Placed[Of]:
    """Place a form with all it gives account of; its blank goes on the list of blanks. Keep what comes back
    in the field of `Layout` that is its own.

    Mass and centre of gravity are the part's own unless given; not `weighed`: the lists count it
    elsewhere. Raises ValueError where the name is taken."""
    if name in out.taken:
        raise ValueError(f"two parts would be called {name}: give the job's member another name")
    centre = getattr(part, "centroid", (0.0, 0.0, 0.0)) if centroid is None else centroid
    made = Placed(
        name,
        body,
        carrier,
        form,
        frame,
        part,
        source,
        weld,
        strength,
        material,
        (mass_kg or getattr(part, "mass_kg", None)) if weighed else None,
        vector(centre),
    )
    out.placed.append(made)
    out.taken.add(name)
    if isinstance(source, FromPlate):
        _count(out.flat, source.blank)
    return made


def _count(flat: list[FlatPart], blank: FlatPart) -> None:
    """Put a blank on the list, or more of one that is there."""
    for i, known in enumerate(flat):
        if known.name == blank.name:
            if replace(known, count=blank.count) != blank:
                raise TypeError(f"two blanks that differ are called {blank.name}")
            flat[i] = replace(known, count=known.count + blank.count)
            return
    flat.append(blank)
