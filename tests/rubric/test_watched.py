"""A rubric file while it is edited."""

import os

from qcledger.rubric.watched import WatchedRubric
from qcledger.settings import shipped

INK = (shipped("rubrics") / "ink.yaml").read_text(encoding="utf-8")


def write(path, text):
    """Write a file as an editor does, at a time of its own however coarse the clock of the disk is."""
    before = path.stat().st_mtime_ns if path.exists() else 0
    path.write_text(text, encoding="utf-8")
    os.utime(path, ns=(0, before + 1_000_000_000))


def test_it_is_read_again_only_when_it_was_written(tmp_path):
    """A look at a file that stands as it did reads nothing."""
    path = tmp_path / "mine.yaml"
    write(path, INK)
    watched = WatchedRubric(path)
    assert watched.look()
    first = watched.good
    assert not watched.look()
    write(path, INK.replace("Lines are gone.", "Nothing is left of them."))
    assert watched.look()
    assert watched.good.hash != first.hash
    assert watched.changed == ("washing_out",)


def test_what_is_refused_leaves_the_last_good_version(tmp_path):
    """The refusal is one line and names the file's; once mended, the file is good again; one that is gone is told."""
    path = tmp_path / "mine.yaml"
    write(path, INK)
    watched = WatchedRubric(path)
    watched.look()
    good = watched.good
    write(path, INK.replace("kind: grade", "kind: grades", 1))
    assert watched.look()
    assert watched.good is good
    assert watched.refused.startswith("mine.yaml line ")
    assert "\n" not in watched.refused
    write(path, INK)
    assert watched.look()
    assert not watched.refused
    path.unlink()
    assert watched.look()
    assert "mine.yaml" in watched.refused
    assert watched.good is not None
    assert not watched.look()


def test_a_file_that_never_was_good_is_refused(tmp_path):
    """Without a good version there is nothing to show but why."""
    path = tmp_path / "mine.yaml"
    write(path, "rubric: [")
    watched = WatchedRubric(path)
    assert watched.look()
    assert watched.good is None
    assert watched.refused
