"""A stranger's STEP file cannot end, hold up or flood the program that asks for it: it is read in a process
of its own.

The damaged copies are seeded; which of them end the kernel (signal 11 on Linux), hang it or read as sound was
found by looking, and nothing is asserted of that but that each comes back as triangles or as one line."""

from __future__ import annotations

import re
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest
from step_text import block

from assemblies.clearance.imported import meshes_of
from parts.files import stranger

DATA = Path(__file__).parent / "data"
NAMES = ("casting.step", "pump.step", "pipe.step")


@pytest.fixture(autouse=True)
def own_cache(tmp_path, monkeypatch):
    from assemblies.clearance import imported

    monkeypatch.setenv("ROCKERSHED_CACHE", str(tmp_path / "cache"))
    imported._memory.clear()
    yield
    imported._memory.clear()


def damaged(seed: int) -> bytes:
    """A copy with bytes changed, its end lost, a stretch lost, references crossed, or numbers made wild."""
    data = (DATA / NAMES[seed % 3]).read_bytes()
    rng, b, kind = np.random.default_rng(seed), bytearray(data), seed % 5
    if kind == 0:
        for _ in range(int(rng.integers(1, 8))):
            b[int(rng.integers(len(b)))] = int(rng.integers(256))
    elif kind == 1:
        del b[int(rng.integers(len(b) // 10, len(b))) :]
    elif kind == 2:
        at = int(rng.integers(len(b) - 200))
        del b[at : at + int(rng.integers(1, 200))]
    elif kind == 3:
        refs = list(re.finditer(rb"#\d+", data))
        for m in [refs[i] for i in rng.integers(len(refs), size=5)]:
            other = refs[int(rng.integers(len(refs)))].group()
            if len(other) == len(m.group()):
                b[m.start() : m.end()] = other
    else:
        numbers = list(re.finditer(rb"-?\d+\.\d*", data))
        for m in [numbers[i] for i in rng.integers(len(numbers), size=8)]:
            wild = b"999999999." + b"9" * 99 if rng.random() < 0.7 else b"nan" + b" " * 99
            b[m.start() : m.end()] = wild[: m.end() - m.start()]
    return bytes(b)


def test_a_file_that_ends_the_kernel_is_one_line_with_its_name(tmp_path):
    """Seed 0: five bytes of a sound file changed. Read in the program's own process they ended it."""
    (tmp_path / "casting.step").write_bytes(damaged(0))
    with pytest.raises(
        ValueError, match=r"^casting\.step (breaks the CAD kernel that reads it|is |holds )"
    ) as e:
        meshes_of(tmp_path / "casting.step", 0.025)
    assert "\n" not in str(e.value)


def test_what_takes_too_long_is_ended_and_says_how_to_wait_longer(monkeypatch):
    monkeypatch.setenv(stranger.SECONDS_KEY, "0.1")
    with pytest.raises(ValueError, match=r"^pump\.step takes .* more than 0\.1 s .* ROCKERSHED_STEP_SECONDS"):
        meshes_of(DATA / "pump.step", 0.025)


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux holds a process to its address space")
def test_what_needs_too_much_memory_is_ended(monkeypatch):
    monkeypatch.setattr(stranger, "GIGABYTES", 0.25)
    with pytest.raises(ValueError, match=r"^pump\.step .*memory"):
        meshes_of(DATA / "pump.step", 0.025)


def test_what_is_no_step_file_at_all_needs_no_process(tmp_path, monkeypatch):
    monkeypatch.setattr(stranger.subprocess, "run", None)
    for name, text in (("empty.step", ""), ("mesh.step", "solid cube\nfacet normal 0 0 1\n")):
        (tmp_path / name).write_text(text)
        with pytest.raises(ValueError, match=f"^{name} is no STEP file"):
            meshes_of(tmp_path / name, 0.025)


@pytest.mark.slow
def test_a_second_run_asks_no_process(tmp_path, monkeypatch):
    from assemblies.clearance import imported
    from parts.files.imported import Imported
    from parts.files.measured import volume_mm3
    from parts.files.solid import solid
    from parts.files.solid_cache import forget

    (tmp_path / "block.step").write_text(block((0, 0, 0), (10, 20, 30)))
    first = meshes_of(tmp_path / "block.step", 0.025)
    made = solid(Imported.of(tmp_path / "block.step"))
    assert volume_mm3(made) == pytest.approx(6000.0)
    imported._memory.clear()
    forget()
    monkeypatch.setattr(stranger.subprocess, "run", None)
    again = meshes_of(tmp_path / "block.step", 0.025)
    assert np.array_equal(first.solids[0], again.solids[0]) and first.error_mm == again.error_mm
    assert volume_mm3(solid(Imported.of(tmp_path / "block.step"))) == pytest.approx(6000.0)


@pytest.mark.slow
def test_modules_beside_the_users_files_are_not_taken_for_ours(tmp_path, monkeypatch):
    (tmp_path / "parts").mkdir()
    (tmp_path / "parts" / "__init__.py").write_text("raise SystemExit('not ours')")
    (tmp_path / "block.step").write_text(block((0, 0, 0), (10, 20, 30)))
    monkeypatch.chdir(tmp_path)
    assert len(meshes_of("block.step", 0.025).solids) == 1


@pytest.mark.slow
def test_damaged_copies_come_back_as_triangles_or_as_one_line(tmp_path, monkeypatch):
    monkeypatch.setenv(stranger.SECONDS_KEY, "20")

    def read(seed: int) -> str:
        path = tmp_path / f"{seed}.step"
        path.write_bytes(damaged(seed))
        try:
            return f"{len(meshes_of(path, 0.025).solids)} solids"
        except ValueError as e:
            assert str(e).startswith(f"{seed}.step ") and "\n" not in str(e)
            return str(e)

    with ThreadPoolExecutor(2) as pool:
        said = list(pool.map(read, (2, 3, 4, 5, 8, 10, 13)))
    assert len(said) == 7 and sum(" solids" not in s for s in said) >= 3


@pytest.mark.parametrize("program", ["/opt/cad/bin/cad", "C:\\tools\\modeller.exe", ""])
def test_inside_another_program_nothing_is_started(monkeypatch, program):
    """There `sys.executable` names that program, or nothing: it would be opened once more."""
    monkeypatch.setattr(sys, "executable", program)
    monkeypatch.setattr(stranger.subprocess, "run", lambda *a, **k: pytest.fail("started"))
    with pytest.raises(stranger.StrangerError, match="by itself"):
        stranger.mesh(DATA / NAMES[0], 0.1)
