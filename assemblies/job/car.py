"""The whole car that a corner belongs to: what moves load from wheel to wheel. All of it optional; a number
that is not given is worked out from the corner or assumed on the safe side, and told.

Statics of a rigid car on two axles, left and right alike: the axle of this corner carries twice its corner
mass.
"""

from typing import Annotated

from pydantic import ValidationInfo

from assemblies.job.values import Flag, Noted, Quantity, Word, assume, from_others, refuse

Track = Annotated[float, Quantity(400, 4000)]
RollRate = Annotated[float, Quantity(0, 1e5, "N·m/deg")]
WEIGHED_APART = 0.15  # of the car's mass: so far a corner may stand from half its axle's share
ROLL_SHARE = 0.6  # of the car's roll moment on this axle where the other's roll rate is not given


class Car(Noted):
    """Masses with the driver aboard; lengths at ride height. `brake_share`: of the car's braking force, at
    the front axle. Roll rates at the axle, both wheels together."""

    table = "car"
    axle: Annotated[str, Word(("front", "rear")), from_others] = assume(
        None, "front where a rack steers it, else rear"
    )
    driven: Annotated[Flag, from_others] = assume(None, "the rear axle drives")
    mass: Annotated[float, Quantity(50, 20_000, "kg"), from_others] = assume(
        None, "four times the corner's, or as the centre of gravity has it"
    )
    wheelbase: Annotated[float, Quantity(800, 6000)] = assume(
        2250.0, "a short car, the safe side, common practice"
    )
    track: Annotated[Track, from_others] = assume(None, "twice the contact's distance from the car's middle")
    other_track: Annotated[Track, from_others] = assume(None, "as this axle's")
    cg_height: Annotated[float, Quantity(50, 2000)] = assume(
        450.0, "low car with its driver 400 to 450, common practice"
    )
    cg_from_front: Annotated[float, Quantity(1, 6000), from_others] = assume(
        None, "behind the front axle, from the corner's share of the car"
    )
    brake_share: Annotated[float, Quantity(0, 1, "")] | None = assume(
        None, "as the wheels are loaded while braking: each at the same share of its grip"
    )
    bar_rate: RollRate = assume(0.0, "no anti-roll bar on this axle")
    other_roll_rate: RollRate | None = assume(
        None, f"{ROLL_SHARE:g} of the car's roll moment is put on this axle, the safe side"
    )


def car_of_corner(car: Car, info: ValidationInfo) -> Car:
    """The car with everything that follows from the corner worked out; left as it is while corner, wheel or
    tie rod are wrong (the job fails anyway)."""
    if not {"corner", "wheel", "tie_rod"} <= info.data.keys():
        return car
    corner, wheel, given = info.data["corner"], info.data["wheel"], dict(car)
    axle = car.axle or ("front" if info.data["tie_rod"].rack_travel > 0 else "rear")
    track = car.track or 2 * abs(wheel.contact[1])
    on_axle = 2 * corner.corner_mass
    if car.cg_from_front is not None and car.cg_from_front >= car.wheelbase:
        raise refuse(
            f"has cg_from_front {car.cg_from_front:g} mm",
            f"must be less than car.wheelbase {car.wheelbase:g} mm",
            "the centre of gravity lies between the axles",
        )
    if car.cg_from_front is None:
        mass = car.mass or 2 * on_axle
        share = on_axle / mass
        if share >= 1:
            raise refuse(
                f"has mass {mass:g} kg",
                f"must be more than {on_axle:g} kg, twice corner.corner_mass",
                "the whole car with its driver",
            )
        behind = car.wheelbase * (1 - share if axle == "front" else share)
    else:
        behind = car.cg_from_front
        share = (car.wheelbase - behind if axle == "front" else behind) / car.wheelbase
        mass = car.mass or on_axle / share
        if abs(share * mass - on_axle) > WEIGHED_APART * mass:
            raise refuse(
                f"puts {share * mass / 2:.4g} kg on this wheel (car.mass {mass:g} kg, car.cg_from_front "
                f"{behind:g} mm)",
                f"must be within {WEIGHED_APART * mass / 2:.3g} kg of corner.corner_mass "
                f"{corner.corner_mass:g} kg",
                "leave car.cg_from_front or car.mass out: it follows from the corner",
            )
    return Car.model_construct(
        car.model_fields_set,
        **given
        | {
            "axle": axle,
            "driven": axle == "rear" if car.driven is None else car.driven,
            "mass": mass,
            "track": track,
            "other_track": car.other_track or track,
            "cg_from_front": behind,
        },
    )
