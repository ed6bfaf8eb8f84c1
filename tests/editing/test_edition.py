"""A site file edited: nothing is lost, nothing is overwritten unasked, taking back is exact."""

from __future__ import annotations

import stat
from collections.abc import Iterator
from pathlib import Path

import pytest

from commission.editing.edition import ChangedMeanwhile, Edition
from commission.editing.working_copy import Origin, is_kept
from commission.host import Disk
from commission.problems import CouldNotWrite, HeldByAnother, InputRefused
from commission.resources import samples
from commission.site.changes.kinds import AddBox, Change, DeleteStation, Length, Rename
from commission.site.load import load_site
from tests.site.changes.test_changes import CHANGES
from tests.walks import clock

LONGER = Length("A", "B6", "90 ft", "tape")


@pytest.fixture
def garden(tmp_path: Path) -> Path:
    path = tmp_path / "garden.toml"
    path.write_bytes(samples()["small-garden"].read_bytes())
    return path


@pytest.fixture
def edition(garden: Path) -> Iterator[Edition]:
    found = Edition(garden, Disk(), clock())
    yield found
    found.close()


def again(edition: Edition, path: Path) -> Edition:
    """Another program on the same file, once this one has ended, however it did."""
    edition.close()
    return Edition(path, Disk(), clock())


@pytest.mark.parametrize("change", CHANGES, ids=str)
def test_taken_back_it_is_the_same_bytes(edition: Edition, garden: Path, change: Change) -> None:
    before = garden.read_bytes()
    edition.change(change)
    changed = edition.version.text
    assert edition.unwritten
    assert changed.encode("utf-8") != before
    edition.undo()
    assert edition.version.text.encode("utf-8") == before
    assert not edition.unwritten
    edition.redo()
    assert edition.version.text == changed
    assert garden.read_bytes() == before  # nothing is written unasked
    edition.write()
    assert garden.read_bytes() == changed.encode("utf-8")
    edition.undo()
    edition.write()
    assert garden.read_bytes() == before


def test_what_was_kept_is_offered_after_any_end(edition: Edition, garden: Path) -> None:
    edition.change(LONGER)
    edition.change(Rename("box", "B2", "Fork"))
    text = edition.version.text
    later = again(edition, garden)
    assert later.left is not None
    assert later.left_is_of_this_file
    assert [what for what, _, _ in later.left.changes] == ["path A, cable B5 to B6", "box B2"]
    later.resume()
    assert later.version.text == text
    assert later.unwritten
    assert len(later.version.changes) == 2
    later.undo()
    assert later.version.text == garden.read_text("utf-8")
    later.redo()
    later.write()
    assert garden.read_text("utf-8") == text
    last = again(later, garden)
    assert last.left is None
    last.close()


def test_what_is_not_written_is_told_from_the_file_on(edition: Edition) -> None:
    edition.change(LONGER)
    edition.change(Rename("box", "B2", "Fork"))
    edition.write()
    assert not edition.unwritten_changes
    edition.undo()
    assert edition.unwritten_changes == (("box B2", "Fork", "Branch box"),)
    edition.change(Rename("box", "B3", "Rose box"))
    assert [what for what, _, _ in edition.unwritten_changes] == ["box B2", "box B3"]


def test_nothing_is_changed_before_it_is_said_what_becomes_of_what_was_left(
    edition: Edition, garden: Path
) -> None:
    edition.change(LONGER)
    later = again(edition, garden)
    with pytest.raises(InputRefused, match="kept earlier"):
        later.change(Rename("box", "B2", "Fork"))
    assert later.left is not None
    later.close()


def test_dropped_changes_are_gone_and_the_file_is_as_it_was(edition: Edition, garden: Path) -> None:
    before = garden.read_bytes()
    edition.change(LONGER)
    edition.drop()
    assert not edition.unwritten
    assert garden.read_bytes() == before
    later = again(edition, garden)
    assert later.left is None
    later.close()


def test_a_file_changed_meanwhile_is_not_written_over_unasked(
    edition: Edition, garden: Path
) -> None:
    edition.change(LONGER)
    other = garden.read_text("utf-8") + "# of another program\n"
    garden.write_text(other, encoding="utf-8")
    with pytest.raises(ChangedMeanwhile, match="changed by another program"):
        edition.write()
    assert garden.read_text("utf-8") == other
    beside = edition.write(over_newer=True)
    assert beside is not None
    assert beside.read_text("utf-8") == other
    assert beside.parent == garden.parent
    assert garden.read_text("utf-8") == edition.version.text


def test_what_another_program_wrote_is_kept_whatever_bytes_it_holds(
    edition: Edition, garden: Path
) -> None:
    edition.change(LONGER)
    other = garden.read_bytes() + b"# caf\xe9\r\n"
    garden.write_bytes(other)
    beside = edition.write(over_newer=True)
    assert beside is not None
    assert beside.read_bytes() == other


def test_changes_of_an_earlier_state_of_the_file_are_put_beside_it(
    edition: Edition, garden: Path
) -> None:
    edition.change(LONGER)
    kept = edition.version.text
    garden.write_text(garden.read_text("utf-8") + "# newer\n", encoding="utf-8")
    later = again(edition, garden)
    assert later.left is not None
    assert not later.left_is_of_this_file
    beside = later.put_aside()
    assert beside is not None
    assert beside.read_text("utf-8") == kept
    assert later.left is None
    assert not later.unwritten
    last = again(later, garden)
    assert last.left is None
    last.close()


def test_going_on_with_changes_of_an_earlier_state_asks_before_it_writes(
    edition: Edition, garden: Path
) -> None:
    edition.change(LONGER)
    garden.write_text(garden.read_text("utf-8") + "# newer\n", encoding="utf-8")
    later = again(edition, garden)
    later.resume()
    with pytest.raises(ChangedMeanwhile):
        later.write()
    later.close()


def test_one_program_at_a_time(edition: Edition, garden: Path) -> None:
    with pytest.raises(HeldByAnother, match="open in another program"):
        Edition(garden, Disk(), clock())
    later = again(edition, garden)
    later.close()


@pytest.mark.parametrize("spoilt", [None, b"", b"[[pa", b"\xff", b'kind = "commission site"\n'])
def test_what_was_kept_is_gone_on_with_where_the_file_is_gone_or_spoilt(
    edition: Edition, garden: Path, spoilt: bytes | None
) -> None:
    whole = garden.read_text("utf-8")
    edition.change(LONGER)
    text = edition.version.text
    if spoilt is None:
        garden.unlink()
    else:
        garden.write_bytes(spoilt)
    later = again(edition, garden)
    assert later.unread
    for over_newer in (False, True):
        with pytest.raises(InputRefused, match="kept earlier"):
            later.write(over_newer=over_newer)
    with pytest.raises(InputRefused, match="kept earlier"):
        later.drop()
    assert Path(later.kept_in) == edition._copy.path
    assert later.left is not None
    later.resume()
    assert later.unwritten
    assert later.version.text == text
    later.undo()  # as the file was when the changes began: kept, for nothing else holds it
    assert later.version.text == whole
    with pytest.raises(InputRefused, match="only what is kept here is whole"):
        later.drop()
    later = again(later, garden)
    assert later.left is not None
    assert later.left.text == whole
    later.resume()
    later.change(LONGER)
    with pytest.raises(ChangedMeanwhile):
        later.write()
    assert garden.read_bytes() == spoilt if spoilt is not None else not garden.exists()
    beside = later.write(over_newer=True)
    assert garden.read_text("utf-8") == text
    assert (beside.read_bytes() if beside else None) == spoilt
    assert not later.unread
    last = again(later, garden)
    assert last.left is None
    last.close()


@pytest.mark.parametrize("spoilt", [None, b"", b"[[pa"])
def test_all_taken_back_is_kept_where_the_file_was_spoilt_meanwhile(
    edition: Edition, garden: Path, spoilt: bytes | None
) -> None:
    """By another program, while this one had it open: nothing else holds what it was."""
    whole = garden.read_text("utf-8")
    edition.change(LONGER)
    if spoilt is None:
        garden.unlink()
    else:
        garden.write_bytes(spoilt)
    edition.undo()
    with pytest.raises(InputRefused, match="only what is kept here is whole"):
        edition.drop()
    later = again(edition, garden)
    assert later.left is not None
    assert later.left.text == whole
    later.resume()
    later.write(over_newer=True)
    assert garden.read_text("utf-8") == whole
    later.close()


def test_all_taken_back_is_forgotten_where_another_program_left_a_whole_file(
    edition: Edition, garden: Path
) -> None:
    edition.change(LONGER)
    garden.write_text(garden.read_text("utf-8") + "# newer\n", encoding="utf-8")
    edition.undo()
    later = again(edition, garden)
    assert later.left is None
    later.close()


class _RefusesOnce(Disk):
    """A disk that refuses to sync a folder once a file in it was removed, one time."""

    removed = False

    def remove(self, path: Path) -> None:
        super().remove(path)
        self.removed = True

    def sync_directory(self, path: Path) -> None:
        if self.removed:
            self.removed = False
            raise OSError(28, "No space left on device")
        super().sync_directory(path)


def test_what_counts_is_kept_where_forgetting_it_was_refused_half_way(
    edition: Edition, garden: Path
) -> None:
    edition.close()
    edition = Edition(garden, _RefusesOnce(), clock())
    edition.change(LONGER)
    text = edition.version.text
    with pytest.raises(CouldNotWrite):
        edition.undo()
    assert edition.version.text == text
    later = again(edition, garden)
    assert later.left is not None
    assert later.left.text == text
    later.close()


def test_a_file_that_is_gone_or_spoilt_is_refused_where_nothing_of_it_is_kept(
    edition: Edition, garden: Path
) -> None:
    edition.close()
    garden.write_bytes(b"[[pa")
    with pytest.raises(InputRefused, match="not valid TOML"):
        Edition(garden, Disk(), clock())
    garden.unlink()
    with pytest.raises(InputRefused, match="No such file"):
        Edition(garden, Disk(), clock())
    loop = garden.with_name("loop.toml")
    loop.symlink_to(loop)
    assert not is_kept(loop, Disk())


def test_what_is_kept_of_a_spoilt_file_is_named_where_it_is_spoilt_too(
    edition: Edition, garden: Path
) -> None:
    """By a later program, say, that refuses what an earlier one took."""
    edition.change(LONGER)
    copy = edition._copy
    edition.close()
    copy.keep("kind = 1", (("box B2", "", "Fork"),), Origin.of("kind = 2"))
    garden.write_bytes(b"[[pa")
    with pytest.raises(InputRefused) as refused:
        Edition(garden, Disk(), clock())
    for words in ("not valid TOML", "(1 change) is kept in", str(copy.path), "its kind is '1'"):
        assert words in str(refused.value)


def test_a_file_that_goes_while_it_is_edited_is_written_when_asked(
    edition: Edition, garden: Path
) -> None:
    edition.change(LONGER)
    garden.unlink()
    with pytest.raises(ChangedMeanwhile, match="not there any more"):
        edition.write()
    assert edition.write(over_newer=True) is None
    assert garden.read_text("utf-8") == edition.version.text


def by_another(garden: Path, old: str, new: str) -> None:
    """Change the file as a text editor would."""
    text = garden.read_text("utf-8")
    assert text.count(old) == 1
    garden.write_text(text.replace(old, new), encoding="utf-8")


def test_what_of_another_programs_change_goes_is_told(edition: Edition, garden: Path) -> None:
    edition.change(LONGER)  # ours is not told
    by_another(garden, 'length = "85 ft"', 'length = "88 ft"')
    by_another(garden, 'fuse = "3 A"', 'fuse = "4 A"')
    by_another(garden, '{ id = "B3", location', '{ id = "B3", label = "Rose box", location')
    lost = (
        ("output 1, fuse", "4 A", "3 A"),
        ("path A, cable to B1, length", "88 ft", "85 ft"),
        ("path A, box B3, label", "Rose box", "not there"),
    )
    with pytest.raises(ChangedMeanwhile) as refused:
        edition.write()
    assert refused.value.given_up == lost
    later = again(edition, garden)
    assert later.given_up == lost
    later.close()


def test_a_row_that_came_and_a_value_changed_by_both_are_told(
    edition: Edition, garden: Path
) -> None:
    edition.change(LONGER)
    edition.change(DeleteStation("S3"))
    by_another(garden, 'length = "75 ft"', 'length = "70 ft"')
    by_another(garden, "number = 3\n", "number = 33\n")
    text = garden.read_text("utf-8")
    seventh = text[text.index('[[station]]\nid = "S6"') :]
    for old, new in (('"S6"', '"S7"'), ("number = 6", "number = 7"), ("106", "107"), ("V6", "V7")):
        seventh = seventh.replace(old, new)
    garden.write_text(f"{text}\n{seventh}", encoding="utf-8")
    later = again(edition, garden)
    assert later.given_up == (
        ("path A, cable to B6, length", "70 ft", "90 ft"),
        ("station S3", "there", "not there"),
        ("station S7", "there", "not there"),
    )
    later.close()


def test_what_another_program_wrote_is_told_without_what_steers_a_terminal(
    edition: Edition, garden: Path
) -> None:
    edition.change(LONGER)
    with garden.open("a", encoding="utf-8") as file:
        file.write('\n["\\u001b[2J"]\nx = 1\n[y]\n"\\u202e" = "\\u009b"\n[[z]]\nid = "\\u001b"\n')
    with pytest.raises(ChangedMeanwhile) as refused:
        edition.write()
    told = refused.value.given_up
    assert [what for what, _, _ in told] == ["<U+001B>[2J", "y", "z <U+001B>"]
    assert all(part.isprintable() for one in told for part in one)


def test_nothing_but_comments_is_told_as_such(edition: Edition, garden: Path) -> None:
    edition.change(LONGER)
    garden.write_text(garden.read_text("utf-8") + "# mine\n", encoding="utf-8")
    later = again(edition, garden)
    assert later.given_up == ()
    later.close()


def test_what_is_changed_after_going_back_to_the_newer_file_began_from_it(
    edition: Edition, garden: Path
) -> None:
    """Kept with the digest of the file that it began from: nobody is asked about a newer one."""
    edition.change(LONGER)
    garden.write_text(garden.read_text("utf-8") + "# newer\n", encoding="utf-8")
    later = again(edition, garden)
    later.resume()
    later.undo()
    later.change(Rename("box", "B2", "Fork"))
    last = again(later, garden)
    assert last.left_is_of_this_file
    last.resume()
    assert last.write() is None
    assert "# newer" in garden.read_text("utf-8")
    assert "Fork" in garden.read_text("utf-8")
    last.undo()  # of the file that was just written, and so no other program's
    final = again(last, garden)
    assert final.left_is_of_this_file
    final.close()


class Full(Disk):
    """A disk on which nothing more can be created, once it is full."""

    full = False

    def create(self, path: Path):  # type: ignore[no-untyped-def]
        if self.full:
            raise OSError(28, "No space left on device")
        return super().create(path)


def test_a_full_disk_changes_nothing(garden: Path) -> None:
    disk = Full()
    edition = Edition(garden, disk, clock())
    edition.change(LONGER)
    text = edition.version.text
    disk.full = True
    for attempt in (
        lambda: edition.change(AddBox("A", "B2", "B7", "60 ft", "80 ft")),
        edition.write,
    ):
        with pytest.raises(CouldNotWrite, match="disk is full"):
            attempt()
        assert edition.version.text == text
        assert edition.unwritten
    disk.full = False
    edition.write()
    edition.close()
    assert garden.read_text("utf-8") == text


def test_what_does_not_fit_is_refused_and_changes_nothing(edition: Edition) -> None:
    text = edition.version.text
    with pytest.raises(InputRefused, match="there is no box 'B9'"):
        edition.change(Length("A", "B9", "90 ft"))
    with pytest.raises(InputRefused, match="a segment of no length"):
        edition.change(AddBox("A", "B2", "B7", "60 ft", "0 ft"))
    with pytest.raises(InputRefused, match="this is so already"):
        edition.change(Length("A", "B2", "140.0 ft"))
    assert edition.version.text == text
    assert not edition.unwritten


def test_permissions_and_a_link_stay(tmp_path: Path, garden: Path) -> None:
    garden.chmod(0o644)
    link = tmp_path / "link.toml"
    link.symlink_to(garden)
    edition = Edition(link, Disk(), clock())
    edition.change(LONGER)
    edition.write()
    edition.close()
    assert link.is_symlink()
    assert not garden.is_symlink()
    assert stat.S_IMODE(garden.stat().st_mode) == 0o644
    assert load_site(garden).path[0].segment[-1].length_by == "tape"


def test_a_spoilt_working_copy_is_refused_by_name_and_left_alone(
    edition: Edition, garden: Path
) -> None:
    edition.change(LONGER)
    copy = edition._copy.path
    edition.close()
    for spoilt in (b"", b"kind = 1", b"\xff", copy.read_bytes()[:-40]):
        copy.write_bytes(spoilt)
        with pytest.raises(InputRefused, match=r"working-copy\.toml: the changes kept here"):
            Edition(garden, Disk(), clock())
        assert copy.read_bytes() == spoilt
    copy.unlink()
    Edition(garden, Disk(), clock()).close()


def test_a_file_with_problems_is_refused_with_all_of_them(garden: Path) -> None:
    garden.write_text(garden.read_text("utf-8").replace('"140 ft"', '"140"'), encoding="utf-8")
    with pytest.raises(InputRefused, match="a unit is missing"):
        Edition(garden, Disk(), clock())
