"""What stops the wheel at both ends of its travel: a bump stop on the damper's shaft, a strap in droop."""

from typing import Annotated

from pydantic import ValidationInfo, field_validator

from assemblies.job.values import Coordinates, Length, Noted, Point, Quantity, Word, assume, refuse

Row = Annotated[tuple[float, float], Coordinates(2, 1e6, "")]


class BumpStop(Noted):
    """On the damper's shaft, between its body and its eye: it touches where the damper is `free_length`
    longer than `damper.shortest`. `curve`: [mm pressed, N along the damper], rising, from its maker or a
    press; its last row is as far as it may be pressed."""

    table = "bump_stop"
    free_length: Annotated[float, Quantity(3, 300)]
    curve: tuple[Row, ...]

    @field_validator("curve", mode="after")
    @classmethod
    def _rises(cls, curve: tuple[Row, ...], info: ValidationInfo) -> tuple[Row, ...]:
        rows, written = [(0.0, 0.0), *curve], [list(r) for r in curve]
        if not curve or any(b[0] <= a[0] or b[1] < a[1] for a, b in zip(rows, rows[1:], strict=False)):
            raise refuse(
                f"is {written}",
                "must be rows [mm pressed, N], each more pressed and no softer than the one before",
            )
        free = info.data.get("free_length")
        if free is not None and curve[-1][0] >= free:
            raise refuse(
                f"ends at {curve[-1][0]:g} mm pressed",
                f"must end before bump_stop.free_length {free:g} mm",
                "give the rows as far as it may be pressed",
            )
        return curve


class DroopStrap(Noted):
    """A strap or cable from `frame` to `end`, a point at ride height that rides on `on`; taut at `length`."""

    table = "droop_strap"
    frame: Point
    end: Point
    on: Annotated[str, Word(("upper_arm", "lower_arm", "upright"))]
    length: Length
    stiffness: Annotated[float, Quantity(1, 1e5, "N/mm")] = assume(
        300.0, "of a short webbing strap with its ends: measure yours; first cut"
    )
    breaking_load: Annotated[float, Quantity(100, 1e6, "N")] | None = assume(
        None, "not given: its maker's, both ends and their stitching"
    )
