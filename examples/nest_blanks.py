"""Blanks of your own on an offcut with a hole in it, every distance proven."""

from assemblies.nesting import Blank, nest, remnant_of
from parts.gusset import Gusset
from parts.rocker_plate import RockerPlate

rocker = RockerPlate((92, 0), (-9.5, 69.3), 4, 38, rod_hole_mm=10, damper_hole_mm=10)
web = Gusset(24, 50, 36, 4)
blanks = [Blank(p.title, p.outline(), 2, p.thickness_mm) for p in (rocker, web)]
corners = [(0, 0), (330, 0), (330, 180), (60, 180), (0, 120)]
offcut = remnant_of(corners, [((300, 150), 20)], name="offcut", thickness_mm=4)
found = nest(blanks, [offcut], effort=300)
for place in found.placements:
    print(place.blank.name)
print(f"{found.use_percent(offcut):.0f} % of the offcut; {len(found.missing)} found no room")

# prints:
# rocker plate
# rocker plate
# gusset
# gusset
# 35 % of the offcut; 0 found no room
