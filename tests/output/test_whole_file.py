"""Files appear whole or not at all."""

import errno
from pathlib import Path

import pytest

from host_sim.errors import UsageError
from host_sim.output.whole_file import check_targets, whole_file


def test_a_file_appears_whole_in_a_folder_made_for_it(tmp_path: Path) -> None:
    target = tmp_path / "new" / "deep" / "a.txt"
    with whole_file(target) as temporary:
        temporary.write_text("all")
        assert temporary.parent == target.parent  # the same disk, so that renaming is atomic
        assert not target.exists()
    assert target.read_text() == "all"
    assert [path.name for path in target.parent.iterdir()] == ["a.txt"]
    assert target.stat().st_mode & 0o777 == 0o644


@pytest.mark.parametrize("failure", [RuntimeError("x"), KeyboardInterrupt(), UsageError("x")])
def test_what_fails_half_way_leaves_the_old_file(tmp_path: Path, failure: BaseException) -> None:
    target = tmp_path / "a.txt"
    target.write_text("old")
    with pytest.raises(type(failure)), whole_file(target) as temporary:
        temporary.write_text("ne")
        raise failure
    assert target.read_text() == "old"
    assert [path.name for path in tmp_path.iterdir()] == ["a.txt"]


def test_a_full_disk_is_said_and_leaves_the_old_file(tmp_path: Path) -> None:
    target = tmp_path / "a.txt"
    target.write_text("old")
    with pytest.raises(UsageError, match=r"a\.txt: cannot be written \(No space left"), \
            whole_file(target):
        raise OSError(errno.ENOSPC, "No space left on device")
    assert target.read_text() == "old"
    assert [path.name for path in tmp_path.iterdir()] == ["a.txt"]


def test_a_folder_or_a_place_that_cannot_be_is_refused(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    (tmp_path / "folder").mkdir()
    for target, remedy in ((tmp_path / "folder", "name a file"),
                           (tmp_path / "file" / "a.txt", "name a folder")):
        with pytest.raises(UsageError, match=remedy), whole_file(target) as temporary:
            temporary.write_text("x")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["file", "folder"]


def test_targets_are_checked_before_anything_is_done(tmp_path: Path) -> None:
    source = tmp_path / "in.csv"
    source.write_text("the only recording")
    (tmp_path / "folder").mkdir()
    old = tmp_path / "old.txt"
    old.write_text("old")
    check_targets({"--trace": old, "--sound": tmp_path / "b.wav", "--picture": None}, [source])
    for targets, says in (
            ({"--trace": source}, "--trace .*is what is read"),
            ({"--trace": tmp_path / "folder" / ".." / "in.csv"}, "is what is read"),
            ({"--trace": old, "--sound": old}, "named by --trace as well"),
            ({"--trace": tmp_path / "folder"}, "is a folder; name a file"),
            ({"--trace": source / "t.csv"}, "name a folder you may write to")):
        with pytest.raises(UsageError, match=says):
            check_targets(targets, [source])
    assert old.read_text() == "old"
    assert source.read_text() == "the only recording"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["folder", "in.csv", "old.txt"]
