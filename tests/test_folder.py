"""A build's folder is swapped in whole or not at all, and the user's files survive."""

import errno
import os
import subprocess
import sys

import pytest

from assemblies.results.folder import MADE, FolderError, fresh


def _build(target, text):
    with fresh(target) as new:
        (new / "sheets").mkdir()
        (new / "sheets" / "a.txt").write_text(text)


def test_second_build_replaces_the_first_and_keeps_what_the_user_added(tmp_path):
    target = tmp_path / "corner"
    _build(target, "one")
    (target / "sheets" / "my notes.txt").write_text("mine")
    with fresh(target) as new:
        (new / "b.txt").write_text("two")
    assert not (target / "sheets" / "a.txt").exists()
    assert (target / "b.txt").read_text() == "two"
    assert (target / "sheets" / "my notes.txt").read_text() == "mine"
    assert [p.name for p in tmp_path.iterdir()] == ["corner"]
    _build(target, "three")
    assert (target / "sheets" / "my notes.txt").read_text() == "mine"


def test_failed_build_leaves_the_last_good_one(tmp_path):
    target = tmp_path / "corner"
    _build(target, "good")
    with pytest.raises(KeyboardInterrupt), fresh(target) as new:
        (new / "half.txt").write_text("half")
        raise KeyboardInterrupt
    assert (target / "sheets" / "a.txt").read_text() == "good"
    assert [p.name for p in tmp_path.iterdir()] == ["corner"]


def test_a_folder_of_the_users_is_refused(tmp_path):
    target = tmp_path / "corner"
    target.mkdir()
    (target / "thesis.doc").write_text("x")
    with pytest.raises(FolderError, match="no build made"), fresh(target):
        pass
    assert (target / "thesis.doc").read_text() == "x" and not (target / MADE).exists()


def test_a_users_file_under_a_name_the_build_now_uses_is_kept_beside_it(tmp_path):
    target = tmp_path / "corner"
    with fresh(target) as new:
        (new / "a.txt").write_text("a")
    (target / "b.txt").write_text("the user's")
    with fresh(target) as new:
        (new / "b.txt").write_text("the build's")
    assert (target / "b.txt").read_text() == "the build's"
    assert (target / "b.txt.kept").read_text() == "the user's"


def test_a_file_in_the_way_is_an_error(tmp_path):
    (tmp_path / "corner").write_text("x")
    with pytest.raises(FolderError, match="is a file"), fresh(tmp_path / "corner"):
        pass


def test_a_made_file_that_the_user_changed_is_kept(tmp_path):
    target = tmp_path / "corner"
    _build(target, "one")
    (target / "sheets" / "a.txt").write_text("one, with my measurements")
    _build(target, "two")
    assert (target / "sheets" / "a.txt").read_text() == "two"
    assert (target / "sheets" / "a.txt.kept").read_text() == "one, with my measurements"


def test_an_empty_folder_is_fine(tmp_path):
    target = tmp_path / "corner"
    target.mkdir()
    _build(target, "one")
    assert (target / "sheets" / "a.txt").read_text() == "one"


@pytest.mark.skipif(sys.platform == "win32", reason="links need a right of their own there")
def test_links_and_empty_folders_of_the_user_are_kept_as_they_are(tmp_path):
    target, elsewhere = tmp_path / "corner", tmp_path / "elsewhere"
    elsewhere.mkdir()
    (elsewhere / "big.step").write_text("big")
    _build(target, "one")
    (target / "link").symlink_to(elsewhere / "big.step")
    (target / "gone").symlink_to("nowhere")
    (target / "folder").symlink_to("../elsewhere")
    (target / "photos" / "june").mkdir(parents=True)
    _build(target, "two")
    assert os.readlink(target / "link") == str(elsewhere / "big.step")
    assert os.readlink(target / "gone") == "nowhere"
    assert os.readlink(target / "folder") == "../elsewhere" and (target / "folder" / "big.step").is_file()
    assert (target / "photos" / "june").is_dir()


def test_what_the_user_edits_again_and_again_is_kept_once_each(tmp_path):
    target = tmp_path / "corner"
    _build(target, "one")
    sheet = target / "sheets" / "a.txt"
    for text in ("edited", "edited", "edited otherwise"):
        sheet.write_text(text)
        _build(target, "two")
        _build(target, "two")
    assert {p.name: p.read_text() for p in sheet.parent.iterdir()} == {
        "a.txt": "two",
        "a.txt.kept": "edited",
        "a.txt.kept-2": "edited otherwise",
    }


def _dead() -> int:
    """The number of a process that has ended."""
    p = subprocess.Popen([sys.executable, "-c", ""])
    p.wait()
    return p.pid


@pytest.mark.skipif(os.name != "posix", reason="elsewhere litter is told by its age")
def test_the_next_build_clears_what_a_killed_one_left(tmp_path):
    target, dead = tmp_path / "corner", _dead()
    _build(target, "one")
    (tmp_path / f".corner.new-{dead}" / "sheets").mkdir(parents=True)
    other = tmp_path / f".corner.new-{os.getppid()}"
    other.mkdir()
    target.rename(tmp_path / f".corner.old-{dead}")  # killed between the two renames
    with pytest.raises(KeyboardInterrupt), fresh(target):
        raise KeyboardInterrupt
    assert (target / "sheets" / "a.txt").read_text() == "one"
    assert {p.name for p in tmp_path.iterdir()} == {"corner", other.name}  # that one is still at work


def test_a_full_disk_is_one_line_and_the_old_folder_stays_whole(tmp_path):
    target = tmp_path / "corner"
    _build(target, "one")
    with (
        pytest.raises(FolderError, match=r"No space left.*was there is as it was") as e,
        fresh(target) as new,
    ):
        raise OSError(errno.ENOSPC, "No space left on device", str(new / "x.pdf"))
    assert "\n" not in str(e.value)
    assert (target / "sheets" / "a.txt").read_text() == "one"


def test_a_disk_without_rights_or_a_file_on_the_way_is_one_line(tmp_path, monkeypatch):
    (tmp_path / "file").write_text("mine")
    with (
        pytest.raises(FolderError, match="cannot be written to") as e,
        fresh(tmp_path / "file" / "corner"),
    ):
        pass
    assert "\n" not in str(e.value) and (tmp_path / "file").read_text() == "mine"
    target = tmp_path / "corner"
    _build(target, "one")

    def refused(path, *_, **__):
        raise PermissionError(errno.EACCES, "Permission denied", str(path))

    monkeypatch.setattr("pathlib.Path.mkdir", refused)
    with pytest.raises(FolderError, match="cannot be written to: Permission denied") as e, fresh(target):
        pass
    assert "\n" not in str(e.value) and (target / "sheets" / "a.txt").read_text() == "one"


def test_a_path_too_long_for_the_disk_is_one_line(tmp_path):
    with pytest.raises(FolderError, match="name another folder") as e, fresh(tmp_path / ("x" * 5000)):
        pass
    assert len(str(e.value)) < 400
