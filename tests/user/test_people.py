"""People are entered once; a broken file is said, never overwritten."""

from __future__ import annotations

import sys
import tomllib
from pathlib import Path

import pytest

from commission.problems import CouldNotWrite, InputRefused
from commission.user.people import Person, load_people, people_file, remember_person

ANNA = Person("Invented Anna", "installer", "Invented Irrigation", "none")


def test_nobody_is_known_at_first() -> None:
    assert load_people() == ()
    assert not people_file().exists()


def test_remembered_and_replaced_by_name() -> None:
    remember_person(ANNA)
    remember_person(Person("Invented Bert"))
    changed = Person(ANNA.name, "inspector")
    remember_person(changed)
    assert load_people() == (changed, Person("Invented Bert"))


def test_the_file_is_plain_toml_and_private() -> None:
    remember_person(ANNA)
    text = people_file().read_text("utf-8")
    assert text.startswith('kind = "commission people"\nformat = 1\n')
    assert tomllib.loads(text)["person"][0]["company"] == "Invented Irrigation"
    if sys.platform != "win32":
        assert people_file().stat().st_mode & 0o077 == 0
    assert [path.name for path in people_file().parent.iterdir()] == ["people.toml"]


@pytest.mark.parametrize(
    ("person", "word"),
    [
        (Person(""), "name"),
        (Person("x" * 61), "name"),
        (Person("A\x1b[31m"), "U\\+001B"),
        (Person("A", role="\u202e"), "role"),
    ],
)
def test_what_cannot_be_kept_is_refused(person: Person, word: str) -> None:
    remember_person(ANNA)
    with pytest.raises(InputRefused, match=word):
        remember_person(person)
    assert load_people() == (ANNA,)


BROKEN = {
    "not TOML": (
        b'kind = "commission people"\nformat = \n',
        ["2: is not valid TOML"],
    ),
    "cut off": (b'kind = "commission people"\nperson = [', [": Invalid value"]),
    "not text": (b"\xff\xfe", ["not UTF-8"]),
    "another kind": (b'kind = "commission site"\nformat = 1\n', ["is not a file of people"]),
    "newer": (b'kind = "commission people"\nformat = 2\n', ["newer than this program"]),
    "no format": (b'kind = "commission people"\n', ["format: this key is missing"]),
    "several at once": (
        b'kind = "commission people"\nformat = 1\n[[person]]\nnam = "A"\nrole = 3\n',
        ["person.1.name: this key is missing", "person.1.role:", "nearest valid: name"],
    ),
    "hostile key": (
        b'kind = "commission people"\nformat = 1\n"\\u001b[31m" = 1\n',
        ["<U+001B>[31m: this key is not known"],
    ),
    "deep": (b"a = " + b"[" * 3000, ["nested too deeply"]),
    "long line": (b'a = "' + b"x" * 5000 + b'"', ["longer than 4000"]),
    "long dotted key": (b"a." * 20_000 + b"a = 1", ["longer than 4000"]),
    "large": (b"# x\n" * 2_000_001, ["larger than"]),
}


@pytest.mark.parametrize(("content", "words"), BROKEN.values(), ids=BROKEN.keys())
def test_a_broken_file_is_said_and_left_alone(content: bytes, words: list[str]) -> None:
    remember_person(ANNA)
    people_file().write_bytes(content)
    with pytest.raises(InputRefused) as refused:
        load_people()
    for word in words:
        assert word in str(refused.value)
    assert str(refused.value).replace("\n", "").isprintable()
    with pytest.raises(InputRefused):
        remember_person(ANNA)
    assert people_file().read_bytes() == content


def test_no_folder_can_be_made(home: Path) -> None:
    home.write_text("a file in the way")
    with pytest.raises((CouldNotWrite, InputRefused)):
        remember_person(ANNA)
