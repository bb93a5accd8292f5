"""A rocker plate, thicker and with a longer rod arm: its mass, its narrowest cut, its blank."""

from parts.rocker_plate import RockerPlate

for thickness_mm, rod_arm_mm in ((3, 92), (4, 92), (4, 96)):
    plate = RockerPlate(
        rod_eye=(rod_arm_mm, 0),
        damper_eye=(-9.5, 69.3),
        thickness_mm=thickness_mm,
        pivot_tube_outer_mm=38,
        rod_hole_mm=10,
        damper_hole_mm=10,
        rod_force_n=9000,
        damper_force_n=5000,
    )
    area_mm2, grams = plate.outline().area_mm2, plate.mass_kg * 1000
    neck = plate.neck("rod").area_mm2
    print(f"{thickness_mm} mm, arm {rod_arm_mm} mm: {area_mm2:.0f} mm², {grams:.0f} g, neck {neck:.0f} mm²")
file = plate.blank("outputs/rocker-left.dxf", hand="left", count=2)
plate.step("outputs/rocker-left.step")
print(file.path.name, f"{file.cut_length_mm:.0f} mm to cut,", len(file.hole_table), "holes")

# prints:
# 3 mm, arm 92 mm: 6767 mm², 159 g, neck 97 mm²
# 4 mm, arm 92 mm: 7005 mm², 220 g, neck 123 mm²
# 4 mm, arm 96 mm: 7195 mm², 226 g, neck 123 mm²
# rocker-left.dxf 543 mm to cut, 5 holes
