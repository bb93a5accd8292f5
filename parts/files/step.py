"""STEP files: parts or a tree of groups, named, coloured, each with its material and density, read back
before they count.

AP214, mm. Steel's density goes with a material; what has none, or is bought, has none in the file."""

from __future__ import annotations

import itertools
import os
import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from OCP.APIHeaderSection import APIHeaderSection_MakeHeader
from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.GeomAbs import GeomAbs_Sphere
from OCP.IFSelect import IFSelect_RetDone
from OCP.Interface import Interface_Static
from OCP.Quantity import Quantity_Color, Quantity_TOC_sRGB
from OCP.STEPCAFControl import STEPCAFControl_Reader, STEPCAFControl_Writer
from OCP.STEPControl import STEPControl_AsIs, STEPControl_Controller
from OCP.TCollection import TCollection_ExtendedString, TCollection_HAsciiString
from OCP.TDataStd import TDataStd_Name
from OCP.TDF import TDF_Label, TDF_LabelSequence
from OCP.TDocStd import TDocStd_Document
from OCP.TopLoc import TopLoc_Location
from OCP.XCAFDoc import XCAFDoc_ColorSurf, XCAFDoc_DocumentTool, XCAFDoc_MaterialTool

from parts.base.frozen import dataclass
from parts.base.stock import DENSITY_KG_M3, STEELS
from parts.base.version import version
from parts.files.kernel import cq
from parts.files.measured import digest, volume_and_centre
from parts.files.remembered import once
from parts.files.solid import SAME_PLACE_MM, SAME_VOLUME, Colour, SolidError
from parts.files.step_bodies import NoBody, StepBody, axes_first, put_in, taken
from parts.files.step_bytes import same_bytes

CURVES = "write.surfacecurve.mode"  # the kernel's own name
SAME_TURN = 1e-9  # of a direction
NO_TIME = "1970-01-01T00:00:00"
DENSITY_G_CM3 = DENSITY_KG_M3 / 1000  # the unit the kernel's translator writes


@dataclass(frozen=True)
class StepPart:
    """One named, coloured shape of a STEP file, where it stands; `group` the branch of the tree it hangs on
    (none: the root), `material` the steel it is made of."""

    name: str
    shape: cq.Shape
    colour: Colour | None = None
    group: str = ""
    material: str = ""


def write_step(path: str | Path, title: str, parts: Sequence[StepPart], as_assembly: bool = True) -> Path:
    """STEP file of named, coloured parts, each standing where its shape stands; proven, then put in place.
    Without the edges' curves on their faces, which a reader works out himself: half the size, read as fast.

    A part's solids are written by the kernel and read back once (`_body`), a file's names, colours and places
    with a ball for each part; then the solids' text takes the place of the balls'."""
    path = Path(path)
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(path.name + ".part")
    try:
        made = _of_bodies if as_assembly else _kept_alone
        beside.write_bytes(made(path.name, title, parts))
        os.replace(beside, path)
    finally:
        beside.unlink(missing_ok=True)
    return path


def _kept_alone(file: str, title: str, parts: Sequence[StepPart]) -> bytes:
    """A file of parts that hang on no tree, as it was written and read back before where of the same."""
    rows = [(p.name, p.colour, p.material, digest(p.shape)) for p in parts]
    return once("part alone", (title, rows), partial(_of_bodies, file, title, parts, as_assembly=False))


def _of_bodies(file: str, title: str, parts: Sequence[StepPart], as_assembly: bool = True) -> bytes:
    own = [replace(p, shape=cq.Shape.cast(p.shape.wrapped.Located(TopLoc_Location()))) for p in parts]
    try:
        if not as_assembly and any((_place(p.shape) != np.eye(3, 4)).any() for p in parts):
            raise NoBody("what hangs on no tree has its place in its own points")
        bodies = [once("body", (digest(p.shape),), partial(_body, file, p)) for p in own]
        balls = [
            replace(p, shape=_balls(k, len(body.heads)).moved(p.shape.location()))
            for k, (p, body) in enumerate(zip(parts, bodies, strict=True), 1)
        ]
        return put_in(axes_first(_proven(file, title, balls, as_assembly, _check_balls)), bodies)
    except NoBody:  # a shape of another program, or a part alone that was moved
        return _proven(file, title, parts, as_assembly)


def _body(file: str, part: StepPart) -> StepBody:
    """A part's solids as a file's text, read back; nothing of its name, colour or steel."""
    return taken(_proven(file, "", [StepPart(part.name, part.shape)], True))


def _balls(radius_mm: int, count: int) -> cq.Shape:
    """What stands for `count` solids: a ball each, aside of one another."""
    balls = [cq.Solid.makeSphere(radius_mm, cq.Vector(3 * radius_mm * k, 0, 0)) for k in range(count)]
    return balls[0] if count == 1 else cq.Compound.makeCompound(balls)


def _proven(
    file: str,
    title: str,
    parts: Sequence[StepPart],
    as_assembly: bool,
    check: Callable[[list[StepPart], Sequence[StepPart], str], None] | None = None,
) -> bytes:
    """What the kernel writes of the parts, read back by it."""
    STEPControl_Controller.Init_s()  # before it the kernel knows no such setting
    Interface_Static.SetIVal_s(CURVES, 0)
    try:
        with TemporaryDirectory() as folder:
            path = Path(folder) / "parts.step"
            _write(_document(title, parts, as_assembly), path, title)
            made = same_bytes(_settled(path.read_bytes()))
            path.write_bytes(made)
            (check or _check_step)(read_step(path), parts, file)
        return made
    finally:
        Interface_Static.SetIVal_s(CURVES, 1)


def _document(title: str, parts: Sequence[StepPart], as_assembly: bool) -> TDocStd_Document:
    document = TDocStd_Document(TCollection_ExtendedString("XmlXCAF"))
    tool = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    colours = XCAFDoc_DocumentTool.ColorTool_s(document.Main())
    tool.SetAutoNaming_s(False)
    materials = XCAFDoc_DocumentTool.MaterialTool_s(document.Main())
    root = tool.NewShape() if as_assembly else None
    groups = {g: tool.NewShape() for g in dict.fromkeys(p.group for p in parts if p.group)} if root else {}
    seen: list[cq.Shape] = []
    for part in parts:
        label = tool.NewShape()
        again = any(part.shape.wrapped.IsPartner(s.wrapped) for s in seen)
        seen.append(part.shape)
        body = (
            part.shape.copy() if again else part.shape
        ).wrapped  # one shape under two labels would share its colour
        where = body.Location() if as_assembly else TopLoc_Location()
        tool.SetShape(label, body.Located(TopLoc_Location()) if as_assembly else body)
        TDataStd_Name.Set_s(label, TCollection_ExtendedString(part.name, True))
        if part.colour:
            colours.SetColor(label, Quantity_Color(*part.colour, Quantity_TOC_sRGB), XCAFDoc_ColorSurf)
        if name := _steel(part.material):
            _made_of(materials, label, name)
        if root is not None:
            TDataStd_Name.Set_s(
                tool.AddComponent(groups.get(part.group, root), label, where),
                TCollection_ExtendedString(part.name, True),
            )
    for name, group in groups.items():
        words = TCollection_ExtendedString(name, True)
        TDataStd_Name.Set_s(group, words)
        TDataStd_Name.Set_s(tool.AddComponent(root, group, TopLoc_Location()), words)
    if root is not None:
        TDataStd_Name.Set_s(root, TCollection_ExtendedString(title, True))
        tool.UpdateAssemblies()
    return document


def _steel(material: str) -> str:
    """The steel's name in the file; none for what is no steel (a bronze bush), whose density is another."""
    if material == "unknown":
        return "steel, grade not given"
    return material if material in STEELS or "steel" in material else ""


def _made_of(materials: XCAFDoc_MaterialTool, label: TDF_Label, steel: str) -> None:
    words = [TCollection_HAsciiString(w) for w in (steel, "", "density measure", "POSITIVE_RATIO_MEASURE")]
    materials.SetMaterial(label, words[0], words[1], DENSITY_G_CM3, words[2], words[3])


def _write(document: TDocStd_Document, path: Path, title: str) -> None:
    writer = STEPCAFControl_Writer()
    writer.SetColorMode(True)
    writer.SetNameMode(True)
    writer.SetMaterialMode(True)
    for key, value in (("xstep.cascade.unit", "MM"), ("write.step.unit", "MM")):
        Interface_Static.SetCVal_s(key, value)
    writer.Transfer(document, STEPControl_AsIs)
    header = APIHeaderSection_MakeHeader(writer.ChangeWriter().Model())
    header.SetName(TCollection_HAsciiString(title))
    header.SetTimeStamp(TCollection_HAsciiString(NO_TIME))  # the same parts make the same bytes
    header.SetAuthorValue(1, TCollection_HAsciiString(""))
    header.SetOriginatingSystem(TCollection_HAsciiString(f"rockershed {version()}"))
    if writer.Write(str(path)) != IFSelect_RetDone:
        raise SolidError(f"{title}: the STEP file could not be written")


OCCURRENCE = re.compile(
    rb"(NEXT_ASSEMBLY_USAGE_OCCURRENCE\()'\d+',\s*('(?:[^']|'')*')\s*,((?:'(?:[^']|'')*'|[^';])*;)"
)


def _settled(file: bytes) -> bytes:
    """The file with its occurrences numbered from 1, each in one line (the kernel counts on from file to
    file, and breaks a line by the digits of its number), and with letters beyond ASCII as the control
    directives of ISO 10303-21 (6.4.3.3), which every reader knows: \\X2\\ for the basic plane, \\X4\\ beyond
    it, four or eight hexadecimal digits each.

    A name without any ASCII letter is taken for empty by common readers, which then show the occurrence's
    number: there the name stands in its place too."""
    count = itertools.count(1)

    def number(found: re.Match) -> bytes:
        n, name = next(count), found[2]
        bare = not re.search(rb"[\x21-\x7e]", name[1:-1]) and not name.isascii()
        rest = re.sub(rb"\s*\n\s*", b"", found[3])
        return found[1] + (name if bare else b"'%d'" % n) + b"," + name + b"," + rest

    def directive(run: re.Match) -> bytes:
        text = run[0].decode("utf-8")
        wide = any(ord(c) > 0xFFFF for c in text)
        form, digits = ("X4", 8) if wide else ("X2", 4)
        return (f"\\{form}\\" + "".join(f"{ord(c):0{digits}X}" for c in text) + "\\X0\\").encode()

    return re.sub(rb"[\x80-\xff]+", directive, OCCURRENCE.sub(number, file))


def _check_names(found: list[StepPart], meant: Sequence[StepPart], file: str) -> None:
    if sorted(p.name for p in found) != sorted(p.name for p in meant):
        raise SolidError(f"{file}: the names read back are {sorted(p.name for p in found)}")


def _check_balls(found: list[StepPart], meant: Sequence[StepPart], file: str) -> None:
    """Each name has its own number of balls of its own radius, in its own place."""
    _check_names(found, meant, file)
    again = {p.name: p.shape for p in found}
    for p in meant:
        radii, wanted = (_radii(s) for s in (again[p.name], p.shape))
        if len(radii) != len(wanted) or not np.allclose(radii, wanted, rtol=0, atol=1e-6):
            raise SolidError(f"{file}: {p.name} reads back as another part")
        off = np.abs(_place(again[p.name]) - _place(p.shape)) / (
            SAME_TURN,
            SAME_TURN,
            SAME_TURN,
            SAME_PLACE_MM,
        )
        if not (off <= 1).all():
            raise SolidError(f"{file}: {p.name} reads back elsewhere than it stands")


def _radii(balls: cq.Shape) -> list[float]:
    faces = [BRepAdaptor_Surface(f.wrapped) for f in balls.Faces()]
    return [f.Sphere().Radius() if f.GetType() == GeomAbs_Sphere else 0.0 for f in faces]


def _place(shape: cq.Shape) -> np.ndarray:
    to = shape.wrapped.Location().Transformation()
    return np.array([[to.Value(i, j) for j in range(1, 5)] for i in range(1, 4)])


def _check_step(found: list[StepPart], meant: Sequence[StepPart], file: str) -> None:
    _check_names(found, meant, file)
    again = {p.name: p.shape for p in found}
    for p in meant:
        wrong = _unlike(again[p.name], p.shape, plainly=True) and _unlike(
            again[p.name], p.shape
        )  # mostly the same faces: the plain rule then errs alike
        if wrong:
            raise SolidError(f"{file}: {p.name} reads back {wrong}")


def _unlike(got: cq.Shape, want: cq.Shape, plainly: bool = False) -> str:
    """How two shapes that should be one differ in volume or place; "" where they do not."""
    (volume, there), (wanted, here) = volume_and_centre(got, plainly), volume_and_centre(want, plainly)
    if abs(volume - wanted) > SAME_VOLUME * wanted:
        return f"with {volume:.3f} mm³, not {wanted:.3f} mm³"
    off = float(np.linalg.norm(there - here))
    return f"{off:.6f} mm from where it stands" if off > SAME_PLACE_MM else ""


def read_step(path: str | Path) -> list[StepPart]:
    """Every named part of a STEP file, placed. Raises SolidError for a file that cannot be read."""
    reader = STEPCAFControl_Reader()
    reader.SetColorMode(True)
    reader.SetNameMode(True)
    Interface_Static.SetCVal_s("xstep.cascade.unit", "MM")
    if reader.ReadFile(str(path)) != IFSelect_RetDone:
        raise SolidError(f"{path}: not a STEP file that can be read")
    document = TDocStd_Document(TCollection_ExtendedString("XmlXCAF"))
    reader.Transfer(document)
    tool = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    colours = XCAFDoc_DocumentTool.ColorTool_s(document.Main())
    found: list[StepPart] = []

    def walk(label: TDF_Label, where: TopLoc_Location, name: str, group: str = "", depth: int = 0) -> None:
        target = TDF_Label()
        if tool.IsReference_s(label) and tool.GetReferredShape_s(label, target):
            there = where.Multiplied(tool.GetLocation_s(label))
            walk(target, there, _name(label) or name, group, depth)
            return
        if tool.IsAssembly_s(label):
            children = TDF_LabelSequence()
            tool.GetComponents_s(label, children)
            for child in children:
                walk(child, where, _name(child), name if depth else "", depth + 1)
            return
        shape = tool.GetShape_s(label)
        colour, rgb = Quantity_Color(), None
        if colours.GetColor(shape, XCAFDoc_ColorSurf, colour):
            rgb = tuple(colour.Values(Quantity_TOC_sRGB))
        found.append(
            StepPart(
                name or _name(label),
                cq.Shape.cast(shape.Located(where.Multiplied(shape.Location()))),
                rgb,
                group,
            )
        )

    roots = TDF_LabelSequence()
    tool.GetFreeShapes(roots)
    for root in roots:
        walk(root, TopLoc_Location(), _name(root))
    return found


def _name(label: TDF_Label) -> str:
    text = TDataStd_Name()
    return str(text.Get().ToExtString()) if label.FindAttribute(TDataStd_Name.GetID_s(), text) else ""
