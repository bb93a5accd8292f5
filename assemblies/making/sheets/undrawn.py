"""What must stand on the frame and has no part of the job's: the rack's clamps or the toe link's bracket, the
droop strap's frame end. Its place on its tube is known all the same; a jig is not, without the part."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from assemblies.job.rack import place
from assemblies.layout.placing import Layout, needed
from assemblies.making.sheets.on_tube import OnTube, place_on
from assemblies.strength.stops import tube_near
from parts.shape.form import vector

CLAMP, TOE_LINK, STRAP = "rack clamp", "toe link bracket", "droop strap, frame end"
ACROSS = (0.0, 1.0, 0.0)  # a rack's axis
AXIS = {CLAMP: "Rack's axis", TOE_LINK: "Middle of the ball", STRAP: "Point of the strap's pull"}
NO_PART = (
    "The job gives no part for it: none is drawn, and without one there is no jig. Make yours so that its "
    "own bore, bolt or eye comes to this place; set it by the tape, both sides alike."
)


def undrawn(layout: Layout) -> Iterator[OnTube]:
    """Those that stand on a tube the job has."""
    job = layout.job
    if layout.tie_rod is not None and (name := job.tie_rod.member) in layout.members:
        if job.tie_rod.rack_travel:
            yield place_on(layout, CLAMP, "tie_rod", name, _rack_at(layout, name), ACROSS)
        else:
            yield place_on(layout, TOE_LINK, "tie_rod", name, job.tie_rod.inner)
    if job.droop_strap is not None and (near := tube_near(layout, job.droop_strap.frame)[0]):
        yield place_on(layout, STRAP, "droop strap", near, job.droop_strap.frame)


def _rack_at(layout: Layout, name: str) -> Sequence[float]:
    """The point of the rack's axis, which lies across the car, nearest to the tube's own; the inner ball
    where the tube lies across too."""
    rod, member = layout.job.tie_rod, layout.members[name]
    x, _, z = place(layout.job.rack, rod.inner) if layout.job.rack is not None else rod.inner
    own = np.array(member.frame.z)
    flat = np.array((own[0], own[2]))
    if np.linalg.norm(flat) < 1e-6:
        return rod.inner
    along = float((np.array((x, z)) - np.array(member.from_)[[0, 2]]) @ flat) / float(flat @ flat)
    return vector((x, member.from_[1] + along * own[1], z))


def lines(b: OnTube, layout: Layout) -> list[str]:
    """What is told beside its place."""
    job, out = layout.job, [NO_PART]
    if b.what == CLAMP:
        x, y, z = job.tie_rod.inner
        out.append(
            f"The clamps' bores lie on one line across the car, the rack's axis, x {b.point[0]:g}, z "
            f"{b.point[2]:g}: a straight bar through both, here and on the other side, stands for it. Inner "
            f"balls at y {y:g} and {-y:g}: shift the rack in its clamps till they are."
        )
        for n, ear in enumerate(job.rack.ear if job.rack is not None else (), 1):
            ex, ey, ez = ear.centre
            out.append(f"Ear {n} of the rack's housing, as the job gives it: x {ex:g}, y {ey:g}, z {ez:g}.")
    elif b.what == TOE_LINK:
        out.append("Its bolt square to the toe link at ride height, unless your joint asks otherwise.")
    else:
        strap = needed(job.droop_strap)
        away = np.subtract(strap.end, strap.frame)
        arm = strap.on.replace("_", " ")
        x, y, z = away / np.linalg.norm(away)
        out.append(
            f"Taut it pulls towards the {arm}, at ride height the way x {x:+z.2f}, y {y:+z.2f}, z "
            f"{z:+z.2f}: the lug in that plane."
        )
    if b.along_mm < 0:
        out.append("That is beyond the end of the tube: it does not stand on it as the job has it.")
    if b.height_mm < 0:
        cure = (
            "a loop round it, or a lug beside it and the strap's length to suit"
            if b.what == STRAP
            else ("it cannot stand there as the job has it")
        )
        out.append(f"That is within the tube, not over its face: {cure}.")
    at, mirror = np.array(b.point), np.array((1.0, -1.0, 1.0))
    seats = [s for s in layout.seats if s.body == "lower_arm"]
    tapes = [f"to {s.bracket} {np.linalg.norm(at - np.array(s.point)):.1f}" for s in seats]
    tapes.append(f"to its own on the other side {np.linalg.norm(at - at * mirror):.1f}")
    tapes += [
        f"to {s.bracket} on the other side {np.linalg.norm(at - np.array(s.point) * mirror):.1f}"
        for s in seats
    ]
    return [*out, f"Tape from there, middle to middle: {'; '.join(tapes)}."]
