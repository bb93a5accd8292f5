"""Own mirror image or not: shapes whose symmetry is plain geometry."""

import pytest

from parts.shape.belt import Boss, belt
from parts.shape.mirror import own_mirror
from parts.shape.outline import Hole, Outline, circle, rectangle, rounded

ISOSCELES = belt([Boss(0, 0, 20), Boss(60, 20, 12), Boss(60, 80, 12)][:2])
SCALENE = belt([Boss(0, 0, 22), Boss(70, 20, 14), Boss(-30, 60, 12)])
PARALLELOGRAM = rounded([(0, 0), (50, 0), (65, 30), (15, 30)])


@pytest.mark.parametrize(
    "outline, mirror",
    [
        (Outline(circle(3, 4, 20)), True),
        (Outline(rectangle(0, 0, 80, 30, 4)), True),
        (Outline(rectangle(0, 0, 80, 30), holes=(Hole(10, 15, 8, "a"), Hole(70, 15, 8, "b"))), True),
        (Outline(rectangle(0, 0, 80, 30), holes=(Hole(10, 8, 8, "a"),)), False),
        (Outline(rectangle(0, 0, 80, 30), holes=(Hole(10, 8, 8, "a"), Hole(70, 22, 8, "b"))), False),
        (Outline(ISOSCELES), True),
        (Outline(SCALENE), False),
        (Outline(PARALLELOGRAM), False),
        (Outline(rectangle(0, 0, 80, 30), (rounded([(10, 10), (30, 10), (10, 20)]).reversed(),)), False),
    ],
)
def test_symmetry(outline, mirror):
    assert own_mirror(outline) is mirror
    assert own_mirror(outline.moved(12.3, -4.5, 0.7)) is mirror
    assert own_mirror(outline.mirrored()) is mirror
