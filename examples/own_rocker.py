"""A rocker with eyes where you want them, lightened with a slot in cadquery, and its blank."""

from parts.base.units import length_mm
from parts.plate import Plate
from parts.rocker_plate import RockerPlate

rocker = RockerPlate(
    (92, 0), (-9.5, 69.3), length_mm("5/32 in"), length_mm("1 1/2 in"), rod_hole_mm=10, damper_hole_mm=10
)
slotted = rocker.workplane().faces(">Z").workplane(origin=(0, 0, 0)).center(45, 0).slot2D(24, 10).cutThruAll()
light = Plate.of(slotted, like=rocker)
for name, plate in (("plain", rocker), ("slotted", light)):
    print(f"{name}: {plate.outline().area_mm2:.0f} mm2, {plate.mass_kg * 1000:.0f} g")
blank = light.blank("outputs/own-rocker.dxf", count=2)
light.svg("outputs/own-rocker.svg")
print(blank.path.name, f"{blank.cut_length_mm:.0f} mm to cut")

# prints:
# plain: 6999 mm2, 218 g
# slotted: 6809 mm2, 212 g
# own-rocker.dxf 595 mm to cut
