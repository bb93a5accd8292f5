"""A rocker's swing against five tubes: the least gap to each, proven over every angle."""

from assemblies.swing import Hinge, OnHinge, Swing
from parts.base.units import length_mm
from parts.member import Member
from parts.rocker_plate import RockerPlate

plate = RockerPlate((92, 0), (-9.5, 69.3), 4, 38, rod_hole_mm=10, damper_hole_mm=10)
hinge = Hinge(pivot=(1700, 260, 480), axis=(1, 0, 0), x_towards=(1700, 352, 480))
tubes = {
    "stay": Member.tube((1660, 150, 608), (1720, 420, 568), 25, 2),
    "upper rail": Member.square((1500, 235, 590), (1900, 235, 590), 25, 2),
    "lower rail": Member.square((1500, 240, 400), (1900, 240, 400), 25, 2),
    "post": Member.square((1740, 300, 390), (1740, 300, 600), 25, 2),
    "diagonal": Member.tube((1600, 420, 420), (1800, 400, 500), length_mm("1 in"), 2),
}
for gap in Swing(hinge, -22, 30, (OnHinge(plate, 13), OnHinge(plate, -17)), tubes).gaps():
    print(gap)

# prints:
# post: 10.44 mm guaranteed at -22.0 deg, 8 asked: ok
# stay: 12.99 mm guaranteed at -15.5 deg, 8 asked: ok
# upper rail: 13.70 mm guaranteed at +0.8 deg, 8 asked: ok
# diagonal: 28.81 mm guaranteed at -4.1 deg, 8 asked: ok
# lower rail: 37.11 mm guaranteed at -22.0 deg, 8 asked: ok
