"""A damper's bracket on a square post, and on a plate 6 mm thick."""

from parts.damper import Damper
from parts.damper_bracket import damper_bracket
from parts.member import Member

damper = Damper(285, 225, 46)
carriers = {
    "post": Member.square((1748, 0, 90), (1748, 0, 362), 30, 2),
    "plate": Member.plate((1748, 12, 90), (1748, 12, 362), width_mm=80, thickness_mm=6, roll_deg=90),
}
for name, member in carriers.items():
    _, pair = damper_bracket(damper, (1748, 34, 252), (1, 0, 0), {name: member})
    grams = pair.mass_kg * 1000
    print(f"on the {name}: reach {pair.reach_mm:.1f} mm, grip {pair.grip_mm:.0f} mm, {grams:.0f} g")
    pair.step(f"outputs/bracket-{name}.step")

# prints:
# on the post: reach 19.0 mm, grip 36 mm, 73 g
# on the plate: reach 19.0 mm, grip 28 mm, 50 g
