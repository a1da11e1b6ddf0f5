"""A session in several files: pulled, joined, replayed to the very decisions of the flight."""

import pytest

import log_store
from alula.log_layout import BLOCK_BYTES
from tests.end_to_end.command import alula as command
from tests.log_flight import flown, flown_in_parts


@pytest.fixture(scope="module")
def flight(tmp_path_factory):
    """(log in one file, logs of the same flight in several, decisions a tick)."""
    one, out = flown(tmp_path_factory.mktemp("one"), "rejected-take-off")
    folder = tmp_path_factory.mktemp("parts")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(log_store, "PART_BLOCKS", 2)
        logs, _ = flown_in_parts(folder, "rejected-take-off")
    parts = {"/" + path.name: path.read_bytes() for path in logs}
    assert len(parts) >= 3 and all(len(data) <= 3 * BLOCK_BYTES for data in parts.values())
    return one, parts, out


def replayed(folder, path) -> dict:
    done = command(folder, "replay", path, "--no-picture", "--json")
    assert done.code == 0, done
    return done.json()


def test_parts_are_pulled_joined_and_replayed_as_one_flight(alula, unit, tmp_path, flight):
    one, parts, decisions = flight
    board = unit(files={name.replace("00001", "00007"): data for name, data in parts.items()})
    folder = tmp_path / "logs"
    done = alula("logs", "pull", "--out", folder, "--port", board.port)
    assert done.code == 0 and f"{len(parts)} parts of one session" in done.out
    assert "--join" in done.out and not list(folder.glob("*joined*"))
    again = alula("logs", "pull", "--join", "--out", folder, "--port", board.port, "--json").json()
    joined = folder / "00007-000-joined.log"
    assert again["joined"] == [str(joined)]
    assert joined.read_bytes() == b"".join(parts[name] for name in sorted(parts))
    found, = replayed(tmp_path, joined)["sessions"]
    assert found["equal"] and found["gaps"] == [] and found["notes"] == []
    assert found["samples"] == found["compared_samples"]
    whole, = replayed(tmp_path, one)["sessions"]
    for word in ("samples", "duration_s", "changes", "compared_digests"):
        assert found[word] == whole[word]
    assert found["samples"] >= len(decisions)
    # pulled once more, the joined file is neither a log of the unit nor in the way
    third = alula("logs", "pull", "--out", folder, "--port", board.port, "--json").json()
    assert not [name for name in third["copied"] if "00007" in name]


def test_the_order_of_the_parts_does_not_matter(tmp_path, flight):
    _, parts, _ = flight
    (tmp_path / "mixed.log").write_bytes(b"".join(parts[name] for name in sorted(parts)[::-1]))
    found, = replayed(tmp_path, "mixed.log")["sessions"]
    assert found["equal"] and found["gaps"] == []
    assert found["notes"] == ["blocks stand in another order than they were made; sorted"]


def test_a_later_part_alone_says_what_is_missing(tmp_path, flight):
    _, parts, _ = flight
    name = sorted(parts)[1]
    (tmp_path / "later.log").write_bytes(parts[name])
    found, = replayed(tmp_path, "later.log")["sessions"]
    gap, = found["gaps"]
    assert "missing" in gap and "the start" in gap
    assert found["compared_samples"] < found["samples"]
