"""A block as STEP text written by hand from ISO 10303-21 and -42: no CAD kernel had a part in it."""

from __future__ import annotations

import numpy as np

FACES = (
    ((0, 2, 3, 1), (0, 0, -1)),
    ((4, 5, 7, 6), (0, 0, 1)),
    ((0, 1, 5, 4), (0, -1, 0)),
    ((2, 6, 7, 3), (0, 1, 0)),
    ((0, 4, 6, 2), (-1, 0, 0)),
    ((1, 3, 7, 5), (1, 0, 0)),
)


def block(low, high, mm: float = 1.0) -> str:
    """A block between two corners (mm), written in millimetres, or in metres (`mm` 1000)."""
    lines: list[str] = []

    def put(text: str) -> str:
        lines.append(f"#{len(lines) + 1}={text};")
        return f"#{len(lines)}"

    def triple(kind: str, v) -> str:
        return put(f"{kind}('',({','.join(f'{float(x)!r}' for x in v)}))")

    at = [
        np.array((x, y, z), float) / mm
        for z in (low[2], high[2])
        for y in (low[1], high[1])
        for x in (low[0], high[0])
    ]
    points = [triple("CARTESIAN_POINT", p) for p in at]
    corners = [put(f"VERTEX_POINT('',{p})") for p in points]
    edges, faces = {}, []
    for loop, out in FACES:
        turns = []
        for a, b in zip(loop, (*loop[1:], loop[0]), strict=True):
            key = min(a, b), max(a, b)
            if key not in edges:
                along = triple(
                    "DIRECTION", (at[key[1]] - at[key[0]]) / np.linalg.norm(at[key[1]] - at[key[0]])
                )
                line = put(f"LINE('',{points[key[0]]},{put(f'VECTOR({chr(39) * 2},{along},1.)')})")
                edges[key] = put(f"EDGE_CURVE('',{corners[key[0]]},{corners[key[1]]},{line},.T.)")
            turns.append(put(f"ORIENTED_EDGE('',*,*,{edges[key]},{'.T.' if a < b else '.F.'})"))
        rim = put(f"FACE_OUTER_BOUND('',{put(f'EDGE_LOOP({chr(39) * 2},({chr(44).join(turns)}))')},.T.)")
        normal, across = triple("DIRECTION", out), triple("DIRECTION", np.roll(np.abs(out), 1))
        plane = put(
            f"PLANE('',{put(f'AXIS2_PLACEMENT_3D({chr(39) * 2},{points[loop[0]]},{normal},{across})')})"
        )
        faces.append(put(f"ADVANCED_FACE('',({rim}),{plane},.T.)"))
    solid = put(f"MANIFOLD_SOLID_BREP('',{put(f'CLOSED_SHELL({chr(39) * 2},({chr(44).join(faces)}))')})")
    length = put(f"(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT({'.MILLI.' if mm == 1 else '$'},.METRE.))")
    angle = put("(NAMED_UNIT(*)PLANE_ANGLE_UNIT()SI_UNIT($,.RADIAN.))")
    space = put("(NAMED_UNIT(*)SI_UNIT($,.STERADIAN.)SOLID_ANGLE_UNIT())")
    near = put(f"UNCERTAINTY_MEASURE_WITH_UNIT(LENGTH_MEASURE(1.E-07),{length},'','')")
    context = put(
        f"(GEOMETRIC_REPRESENTATION_CONTEXT(3)GLOBAL_UNCERTAINTY_ASSIGNED_CONTEXT(({near}))"
        f"GLOBAL_UNIT_ASSIGNED_CONTEXT(({length},{angle},{space}))REPRESENTATION_CONTEXT('',''))"
    )
    shape = put(f"ADVANCED_BREP_SHAPE_REPRESENTATION('',({solid}),{context})")
    use = put("APPLICATION_CONTEXT('mechanical design')")
    product = put(
        f"PRODUCT('block','block','',({put(f'PRODUCT_CONTEXT({chr(39) * 2},{use},{chr(39)}mechanical{chr(39)})')}))"  # noqa: E501 - one line of the standard
    )
    version = put(f"PRODUCT_DEFINITION_FORMATION('','',{product})")
    made = put(
        f"PRODUCT_DEFINITION('','',{version},{put(f'PRODUCT_DEFINITION_CONTEXT({chr(39)}part definition{chr(39)},{use},{chr(39)}design{chr(39)})')})"  # noqa: E501 - one line of the standard
    )
    put(
        f"SHAPE_DEFINITION_REPRESENTATION({put(f'PRODUCT_DEFINITION_SHAPE({chr(39) * 2},{chr(39) * 2},{made})')},{shape})"  # noqa: E501 - one line of the standard
    )
    head = "HEADER;\nFILE_DESCRIPTION((''),'2;1');\nFILE_NAME('','2000-01-01T00:00:00',(''),(''),'','','');\nFILE_SCHEMA(('AUTOMOTIVE_DESIGN'));\nENDSEC;"  # noqa: E501 - one line of the standard
    return "\n".join(["ISO-10303-21;", head, "DATA;", *lines, "ENDSEC;", "END-ISO-10303-21;", ""])
