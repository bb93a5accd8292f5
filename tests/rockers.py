"""A boxed rocker from one row of numbers, as the tests write them down."""

from parts.rocker import BoxedRocker, boxed_rocker
from parts.rocker_plate import RockerPlate


def boxed(rod_eye, damper_eye, *, tube_outer_mm, tube_wall_mm, box_width_mm, **given) -> BoxedRocker:
    own = ("rod_swing", "damper_swing", "strip_mm", "gusset_mm")
    inside = {k: given.pop(k) for k in own if k in given}
    plate = RockerPlate(rod_eye, damper_eye, pivot_tube_outer_mm=tube_outer_mm, **given)
    return boxed_rocker(plate, box_width_mm=box_width_mm, tube_wall_mm=tube_wall_mm, **inside)
