"""In which order the frame's tubes are fitted and tacked, so that each can be brought in and its seams be
reached: the frame taken apart tube by tube, each by a motion that none of those left stands in the way of,
told
backwards."""

from __future__ import annotations

from assemblies.layout.junctions.bodies import OTHER_SIDE, standing
from assemblies.layout.junctions.fitting import Junctions
from assemblies.layout.junctions.motions import WayIn, Ways
from assemblies.layout.junctions.torch import HALF_DEG, LONG_MM, TorchSeam
from assemblies.results.findings import Finding, Level
from parts.base.frozen import dataclass

LOST = 0.02  # of a seam: less is within the points' number
POOR, HALF = 0.9, 0.5  # a seam reached less than this is told, and a warning
NAMED = 6


@dataclass(frozen=True)
class TorchReach:
    """How much of an end's seam a torch reaches: when its tube and those it is cut to are in place, and
    when all are; `before`: the tube that first hides some of it, "" where none does."""

    member: str
    end: str
    node: str
    placed: float
    last: float
    before: str = ""


@dataclass(frozen=True)
class FitStep:
    """`motion` None: it stands first, or no way was found for it. `seams`: those that can be tacked now,
    its own and those of tubes that waited for it."""

    name: str
    motion: WayIn | None
    seams: tuple[TorchReach, ...]
    tacks: tuple[str, ...] = ()  # ends that touch one of the tubes they are cut to from now on


@dataclass(frozen=True)
class Assembly:
    steps: tuple[FitStep, ...]
    stuck: tuple[str, ...]  # tubes that hold each other: none of them comes out past the others

    def findings(self) -> list[Finding]:
        """What cannot be put in, and seams that no torch reaches."""
        out = []
        if self.stuck:
            out.append(
                _warn(
                    "order of fitting",
                    f"No way in was found for the last of {_list(self.stuck)}, straight or one end "
                    "first and swung "
                    "home: they hold each other. Split one of them with a sleeve over the joint, or "
                    "end one of them "
                    "flat on the side it must come from.",
                )
            )
        poor = [
            (r.placed, f"'{r.member}' {r.end} {100 * r.placed:.0f} %") for s in self.steps for r in s.seams
        ]
        poor = sorted(p for p in poor if p[0] < POOR)
        if poor:
            text = (
                f"A torch's cone of {2 * HALF_DEG:g} deg and {LONG_MM:g} mm reaches only this much of a "
                "seam, even as "
                f"soon as its tube is in place: {_list([p for _, p in poor])}. Move a tube's other end, "
                "or close the "
                "rest with a plate."
            )
            level: Level = "warn" if poor[0][0] < HALF else "note"
            out.append(Finding(level=level, code="frame-order", where="seams out of reach", text=text))
        return out


def assembled(made: Junctions, both_sides: bool) -> Assembly | None:
    """None where no tube is cut to another. `both_sides`: the other side's mirror images are fitted too."""
    if not made.tubes:
        return None
    tubes = {t.name: t for t in standing(made, both_sides)}
    ways, left = Ways(list(tubes.values())), set(tubes)
    listed = {n: i for i, n in enumerate(tubes)}
    taken: list[tuple[str, WayIn]] = []
    while len(left) > 1:
        under = {r for n in left for r in tubes[n].cut_to}
        order = sorted(left, key=lambda n: (n in under, -tubes[n].rank, -listed[n]))
        found = next(((n, m) for n in order if (m := ways.free(n, left)) is not None), None)
        found = found or next(
            ((n, m) for n in order if (m := ways.free(n, left, swings=True)) is not None), None
        )
        if found is None:
            break
        taken.append(found)
        left.remove(found[0])
    first = sorted(left, key=lambda n: (tubes[n].rank, listed[n]))
    sequence: list[tuple[str, WayIn | None]] = [*((n, None) for n in first), *reversed(taken)]
    seams = {n: [(e, TorchSeam(t, e, cut, tubes.values())) for e, cut in t.cuts()] for n, t in tubes.items()}
    steps: list[FitStep] = []
    there: set[str] = set()
    later = [n for n, _ in sequence]
    for i, (name, motion) in enumerate(sequence):
        there.add(name)
        rows = [
            _reach(made, tube, end, seam, set(there), later[i + 1 :])
            for tube in later[: i + 1]
            for end, seam in seams[tube]
            if name in seam.needs and seam.needs & tubes.keys() <= there
        ]
        tacks = [
            _end_in_words(made, tube, end)
            for tube in later[: i + 1]
            for end, seam in seams[tube]
            if _tacked_now(seam.needs - {tube}, name, tube, there)
        ]
        steps.append(FitStep(name, motion, tuple(rows), tuple(tacks)))
    return Assembly(tuple(steps), tuple(first) if len(first) > 1 else ())


def _tacked_now(runs: set[str], name: str, tube: str, there: set[str]) -> bool:
    """Whether an end touches its first run as `name` goes in: its own tube comes to one, or one comes to
    it."""
    return bool(runs & there) if name == tube else name in runs and not runs & (there - {name})


def _end_in_words(made: Junctions, name: str, end: str) -> str:
    node = made.node_of(name.removesuffix(OTHER_SIDE), end)
    return f"{name}, {end} end" + (f" at {node.name}" if node else "")


def _reach(
    made: Junctions, name: str, end: str, seam: TorchSeam, there: set[str], later: list[str]
) -> TorchReach:
    placed, before = seam.reached(there), ""
    for other in later:
        there = there | {other}
        if not before and seam.reached(there) < placed - LOST:
            before = other
    node = made.node_of(name.removesuffix(OTHER_SIDE), end)
    return TorchReach(name, end, node.name if node else "", placed, seam.reached(there), before)


def _list(names) -> str:
    some = [n if n.startswith("'") else f"'{n}'" for n in names]
    return ", ".join(some[:NAMED]) + (f" and {len(some) - NAMED} more" if len(some) > NAMED else "")


def _warn(where: str, text: str) -> Finding:
    return Finding(level="warn", code="frame-order", where=where, text=text)
