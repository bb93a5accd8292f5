"""An adjuster sleeve on the pivot tube: how fine a step a hole count gives, and how long the sleeve grows."""

from parts.adjuster_sleeve import AdjusterSleeve
from parts.base.units import length_mm

for positions in (12, 24, 36):
    sleeve = AdjusterSleeve.around(length_mm("1 1/2 in"), 3, positions, bolt="M8")
    print(
        f"{positions} positions: {sleeve.step_deg:.0f} deg a step, {len(sleeve.rows)} rows, "
        f"{sleeve.length_mm:.0f} mm long, {sleeve.mass_kg * 1000:.0f} g"
    )
for hole in sleeve.holes("outer")[:3]:
    print(f"row {hole.row}: {hole.z_mm:.1f} mm along, {hole.arc_mm:.2f} mm round")
sleeve.step("outputs/sleeve.step")

# prints:
# 12 positions: 30 deg a step, 1 rows, 24 mm long, 101 g
# 24 positions: 15 deg a step, 2 rows, 42 mm long, 174 g
# 36 positions: 10 deg a step, 3 rows, 60 mm long, 247 g
# row 1: 12.0 mm along, 0.00 mm round
# row 1: 12.0 mm along, 22.20 mm round
# row 1: 12.0 mm along, 44.40 mm round
