"""The curves of a corner over its travel, as pictures (SVG for the report, PNG for a quick look)."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from assemblies.results.model import Results
from parts.files.cache import keep, kept, key

# Okabe and Ito's palette, told apart by colour-blind readers; published 2008.
ENDINGS = ("svg", "png")
BLUE, ORANGE, GREEN, RED, GREY = "#0072B2", "#E69F00", "#009E73", "#D55E00", "#777777"


def draw(results: Results, folder: Path, progress: Callable[[str], None] = lambda _: None) -> list[Path]:
    """Draw every curve into `folder`, as drawn before where nothing of it changed; returns the files written.
    Needs `results.travel`."""
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    folder.mkdir(parents=True, exist_ok=True)
    files = []
    for name, title, unit, curves, extra in _figures(results):
        progress(f"plot {name}")
        paths = [folder / f"{name}.{ending}" for ending in ENDINGS]
        files += paths
        made_of = key(
            (results.name, results.travel.wheel_mm, title, unit, curves),
            (results.ends, sorted(matplotlib.rcParams.items())),
        )
        before = [kept(made_of, ending) for ending in ENDINGS]
        if all(before):
            for path, body in zip(paths, before, strict=True):
                path.write_bytes(body)
            continue
        fig, ax = plt.subplots(figsize=(7, 4), layout="constrained")
        x = results.travel.wheel_mm
        for label, curve, colour, style in curves:
            ax.plot(
                x,
                [float("nan") if v is None else v for v in curve],
                color=colour,
                linestyle=style,
                linewidth=2,
                label=label,
            )
        ax.axvline(0, color=GREY, linewidth=0.8)
        ax.margins(x=0)
        ax.grid(True, color="#dddddd", linewidth=0.6)
        ax.set_xlabel("wheel height from ride, mm (bump to the right)")
        ax.set_ylabel(unit)
        ax.set_title(f"{results.name}: {title}", loc="left", fontsize=11)
        extra(ax)
        if len(ax.get_legend_handles_labels()[1]) > 1:
            ax.legend(frameon=False, fontsize=9)
        for ending, path in zip(ENDINGS, paths, strict=True):
            fig.savefig(path, dpi=130, metadata={"Date": None} if ending == "svg" else {"Software": None})
            if results.name.isascii():  # else in a font of this machine, which the key does not name
                keep(made_of, ending, path.read_bytes())
        plt.close(fig)
    return files


def _figures(r: Results):
    t, e = r.travel, r.ends
    nothing = lambda ax: None  # noqa: E731

    def band(low: float, high: float, text: str):
        def put(ax):
            lo, hi = ax.get_ylim()
            for a, b in ((lo, low), (high, hi)):
                if b > a:
                    ax.axhspan(a, b, color=RED, alpha=0.12, linewidth=0)
            ax.set_ylim(lo, hi)
            ax.text(0.01, 0.02, text, transform=ax.transAxes, fontsize=8, color=RED)

        return put

    def stroke(ax):
        for where, label in (
            (e.damper_bottoms_at_wheel_mm, "bottoms"),
            (e.damper_tops_out_at_wheel_mm, "tops out"),
        ):
            if where is not None:
                ax.axvline(where, color=RED, linestyle=":", label=f"damper {label} at wheel {where:+.1f} mm")

    yield ("rocker-angle", "rocker angle", "deg from ride", [("rocker", t.rocker_deg, BLUE, "-")], nothing)
    yield ("damper-length", "damper eye to eye", "mm", [("damper", t.damper_mm, BLUE, "-")], stroke)
    yield (
        "damper-per-wheel",
        "damper travel per wheel travel",
        "mm per mm",
        [("damper per wheel", t.damper_per_wheel, BLUE, "-")],
        nothing,
    )
    yield (
        "wheel-rate",
        "wheel rate",
        "N/mm",
        [
            ("wheel rate", t.wheel_rate_n_per_mm, BLUE, "-"),
            ("from the spring's rate", t.wheel_rate_spring_term_n_per_mm, GREEN, "--"),
            ("from the changing ratio", t.wheel_rate_geometry_term_n_per_mm, ORANGE, "-."),
        ],
        nothing,
    )
    yield (
        "wheel-force",
        "vertical force at the wheel centre",
        "N",
        [("spring at the wheel", t.wheel_force_n, BLUE, "-")],
        nothing,
    )
    yield ("rod-force", "rod force, tension positive", "N", [("rod", t.rod_force_n, BLUE, "-")], nothing)
    yield (
        "camber-toe",
        "camber and toe-in",
        "deg",
        [("camber, + top outward", t.camber_deg, BLUE, "-"), ("toe-in", t.toe_deg, ORANGE, "--")],
        nothing,
    )
    if (s := r.steering) is not None and (g := r.geometry) is not None and len(g.wheel_mm) == len(t.wheel_mm):
        racks = [b for b in s.bump if not b.rack_mm or abs(b.rack_mm) == s.lock_rack_mm]
        yield (
            "bump-steer",
            "toe change from ride at the same rack, toe-in positive",
            "deg",
            [
                (
                    f"rack {b.rack_mm:+g} mm" if b.rack_mm else "straight ahead",
                    b.toe_change_deg,
                    colour,
                    style,
                )
                for b, colour, style in zip(racks, (ORANGE, BLUE, GREEN), ("--", "-", "-."), strict=False)
            ],
            nothing,
        )
        yield (
            "roll-centre",
            "roll centre over the ground",
            "mm",
            [
                ("by the motion of the contact", g.roll_centre_mm, BLUE, "-"),
                ("by the arms' construction, a check", g.roll_centre_by_arms_mm, ORANGE, "--"),
            ],
            nothing,
        )
    yield (
        "rod-to-arm",
        "angle between rod and rocker arm",
        "deg",
        [("rod to arm", t.rod_to_arm_deg, BLUE, "-")],
        band(40, 140, "shaded: under 40 or over 140 deg, close to toggle (common practice)"),
    )
    yield (
        "moment-arm",
        "rod's moment arm about the pivot",
        "mm",
        [("moment arm", t.rod_moment_arm_mm, BLUE, "-")],
        nothing,
    )
    if t.spring_torque_nm is not None:
        yield (
            "spring-torque",
            "spring torque",
            "N·m",
            [("spring torque", t.spring_torque_nm, BLUE, "-")],
            nothing,
        )
    else:
        yield ("spring-force", "spring force", "N", [("spring force", t.spring_force_n, BLUE, "-")], nothing)
