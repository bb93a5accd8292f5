"""Plane stress on a triangle mesh by quadratic elements (scikit-fem): tractions on edges, edges held, stress
at the points.

Linear elastic, small displacements. Lengths mm, stress MPa, tractions N/mm². scikit-fem is a development
dependency: where it is missing `solve` says how to get it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from assemblies.strength.fea.mesh import Mesh
from parts.base.frozen import dataclass
from parts.base.stock import E_MPA, POISSON

Where = Callable[[np.ndarray], np.ndarray]  # points (2, n) of edge middles -> which edges
Traction = Callable[
    [np.ndarray, np.ndarray], np.ndarray
]  # points (2, ...), outward normals (2, ...) -> traction (2, ...), N/mm²


@dataclass(frozen=True)
class Solved:
    """Stress MPa at the mesh's points: xx, yy, xy; `held_n`: force that the held edges
    take, N."""

    mesh: Mesh
    stress_mpa: np.ndarray  # (n, 3)
    held_n: tuple[float, float]
    unknowns: int

    @property
    def von_mises_mpa(self) -> np.ndarray:
        xx, yy, xy = self.stress_mpa.T
        return np.sqrt(xx**2 - xx * yy + yy**2 + 3 * xy**2)

    def near(self, x: float, y: float) -> int:
        """The point of the mesh nearest to a place."""
        return int(np.argmin(np.hypot(self.mesh.points[:, 0] - x, self.mesh.points[:, 1] - y)))


def solve(
    mesh: Mesh,
    thickness_mm: float,
    loads: Sequence[tuple[Where, Traction]],
    held: Sequence[tuple[Where, tuple[bool, bool]]],
    youngs_modulus_mpa: float = E_MPA,
    poisson: float = POISSON,
) -> Solved:
    """`held`: edges and which of (x, y) is held at zero there. Stress by least squares on to the elements'
    own polynomials, continuous.

    Raises ImportError with the cure where scikit-fem is missing, ValueError where no edge is loaded or
    held."""
    try:
        import skfem
        from skfem.helpers import ddot, dot, eye, sym_grad, trace
    except ImportError:
        raise ImportError("finite elements need scikit-fem: pip install scikit-fem") from None
    grid = skfem.MeshTri(np.ascontiguousarray(mesh.points.T), np.ascontiguousarray(mesh.triangles.T))
    basis = skfem.Basis(grid, skfem.ElementVector(skfem.ElementTriP2()))
    # plane stress: Lamé's first constant reduced
    shear = youngs_modulus_mpa / (2 * (1 + poisson))
    first = youngs_modulus_mpa * poisson / (1 - poisson**2)

    @skfem.BilinearForm
    def stiffness(u, v, w):
        strain = sym_grad(u)
        return ddot(2 * shear * strain + first * eye(trace(strain), 2), sym_grad(v)) * thickness_mm

    k = stiffness.assemble(basis)
    f = np.zeros(basis.N)
    for where, traction in loads:
        edges = grid.facets_satisfying(where, boundaries_only=True)
        if not len(edges):
            raise ValueError("a load lies on no edge of the mesh")

        @skfem.LinearForm
        def work(v, w, traction=traction):
            return dot(traction(w.x, w.n), v) * thickness_mm

        f += work.assemble(skfem.FacetBasis(grid, basis.elem, facets=edges))
    fixed = []
    for where, (x, y) in held:
        edges = grid.facets_satisfying(where, boundaries_only=True)
        if not len(edges):
            raise ValueError("a held place lies on no edge of the mesh")
        dofs = basis.get_dofs(edges)
        names = [n for n, on in (("u^1", x), ("u^2", y)) if on]
        fixed.append(dofs.all(names))
    pinned = np.unique(np.concatenate(fixed))
    u = skfem.solve(*skfem.condense(k, f, D=pinned))
    reaction = k @ u - f
    direction = _directions(basis)
    taken_x, taken_y = (float(reaction[pinned][direction[pinned] == i].sum()) for i in (0, 1))

    # stress, continuous and quadratic, by one mass matrix
    one = skfem.Basis(grid, skfem.ElementTriP2(), quadrature=basis.quadrature)
    field = basis.interpolate(u)
    strain = sym_grad(field)
    stress = 2 * shear * strain + first * eye(trace(strain), 2)
    mass = skfem.BilinearForm(lambda p, q, w: p * q).assemble(one)
    rhs = np.stack(
        [
            skfem.LinearForm(lambda q, w, s=s: w["s"] * q).assemble(one, s=s)
            for s in (stress[0, 0], stress[1, 1], stress[0, 1])
        ],
        1,
    )
    from scipy.sparse.linalg import splu

    values = splu(mass.tocsc()).solve(rhs)
    nodal = values[one.nodal_dofs[0]]
    return Solved(mesh, nodal, (taken_x, taken_y), basis.N)


def _directions(basis) -> np.ndarray:
    """0 for the x part of every unknown, 1 for y."""
    out = np.zeros(basis.N, int)
    out[basis.nodal_dofs[1]] = 1
    out[basis.facet_dofs[1]] = 1
    return out


def on_circle(x: float, y: float, radius_mm: float, slack_mm: float = 0.05) -> Where:
    """Edges whose middles lie on a circle (a chord's middle lies a little inside)."""
    return lambda p: np.abs(np.hypot(p[0] - x, p[1] - y) - radius_mm) < max(slack_mm, 0.02 * radius_mm)


def pin(x: float, y: float, radius_mm: float, force_n: tuple[float, float], thickness_mm: float) -> Traction:
    """A pin's push on its hole: pressure p·cos(φ) over the half that faces the force, p = 2·F/(π·r·t).

    The push acts towards the force: F = ∫ p·cos²φ·r·t dφ over ±90° = p·r·t·π/2."""
    fx, fy = force_n
    size = float(np.hypot(fx, fy))
    peak = 2 * size / (np.pi * radius_mm * thickness_mm)

    def traction(p: np.ndarray, n: np.ndarray) -> np.ndarray:
        ux, uy = (p[0] - x), (p[1] - y)
        r = np.hypot(ux, uy)
        along = np.maximum((ux * fx + uy * fy) / (r * max(size, 1e-12)), 0.0)
        return np.stack([peak * along * ux / r, peak * along * uy / r])

    return traction
