"""Names in any script, in every kind of file; control characters are refused and never printed raw."""

import re

import cadquery as cq
import pytest
from pypdf import PdfReader
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfgen.canvas import Canvas
from typer.testing import CliRunner

from assemblies.command.cli import app
from assemblies.job import STARTER, Job, JobError, slug
from assemblies.making.sheets.letters import lacking, letters
from parts.files.step import StepPart, read_step, write_step

NAMES = ["стойка", "стойка 2 Ж", "ראש", "架", "ä/b 'x'", "🚗 rail", "plain rail"]


def test_step_keeps_names_in_any_script_and_stays_ascii(tmp_path):
    """The directives of ISO 10303-21, 6.4.3.3: U+0416 is \\X2\\0416\\X0\\, U+1F697 \\X4\\0001F697\\X0\\."""
    box = cq.Workplane().box(1, 2, 3).val()
    parts = [StepPart(n, box.moved(cq.Location((9 * i, 0, 0))), None) for i, n in enumerate(NAMES)]
    file = write_step(tmp_path / "a.step", "угол", parts)
    assert sorted(p.name for p in read_step(file)) == sorted(NAMES)
    written = file.read_bytes()
    assert written.isascii() and rb"\X2\0416\X0\ "[:-1] in written and rb"\X4\0001F697\X0\ "[:-1] in written
    assert file.read_bytes() == write_step(tmp_path / "b.step", "угол", parts).read_bytes().replace(
        b"b.step", b"a.step"
    )


def test_folders_take_the_letters_of_the_name():
    assert [slug(n) for n in NAMES] == ["стойка", "стойка-2-ж", "ראש", "架", "a-b-x", "rail", "plain-rail"]
    assert len(slug("架" * 80).encode()) <= 80 and slug("\u202e") == ""


def test_paper_has_the_letters_of_a_name(tmp_path):
    with letters(["стойка Ж", "ω"]) as missing:
        page = Canvas(str(tmp_path / "a.pdf"), invariant=1)
        page.setFont("Helvetica-Bold", 12)
        page.drawString(50, 700, "стойка Ж, 30 mm")
        page.save()
    assert not missing
    assert "стойка Ж, 30 mm" in PdfReader(tmp_path / "a.pdf").pages[0].extract_text()
    assert not pdfmetrics.getFont("Helvetica")._dynamicFont  # the standard font is back
    assert lacking("Ölwanne, 3 mm² – é") == set() and lacking("架 a") == {"架"}


@pytest.mark.parametrize("bad", ["a\tb", "\x1b[31mred", "rail\u202e", "a\x00b", "x\u200b"])
def test_control_characters_are_refused_and_not_echoed(bad, tmp_path):
    text = STARTER.read_text(encoding="utf-8")
    quoted = "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in bad)
    file = tmp_path / "a.toml"
    file.write_text(text.replace('name = "lower rail"', f'name = "{quoted}"'), encoding="utf-8")
    ran = CliRunner().invoke(app, ["check", str(file)])
    assert ran.exit_code == 2
    assert all(line.isprintable() for line in ran.output.split("\n")), ran.output
    assert re.search(r"member\..*name", ran.output)
    with pytest.raises(JobError):
        Job.from_dict({"name": bad})
    ran = CliRunner().invoke(app, ["check", str(tmp_path / "gone\x1b[31m.toml")])
    assert ran.exit_code == 2 and "\x1b" not in ran.output.replace("\x1b[", "", 0).split("error")[-1]
