"""Webs between a rocker's plates, 25 to 45 mm apart, and the blank of the last."""

from parts.base.units import length_mm
from parts.gusset import Gusset

for width_mm in (25, 35, 45):
    web = Gusset(start_mm=24, length_mm=50, width_mm=width_mm, thickness_mm=length_mm("1/8 in"), snipe_mm=8)
    print(f"{width_mm} mm wide: {web.area_mm2:.0f} mm2, {web.mass_kg * 1000:.1f} g")
print(web.blank("outputs/gusset.dxf").path.name, web.step("outputs/gusset.step").name)

# prints:
# 25 mm wide: 1122 mm2, 28.0 g
# 35 mm wide: 1622 mm2, 40.4 g
# 45 mm wide: 2122 mm2, 52.9 g
# gusset.dxf gusset.step
