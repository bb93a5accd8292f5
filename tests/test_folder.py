"""A build's folder is swapped in whole or not at all, and the user's files survive."""

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
