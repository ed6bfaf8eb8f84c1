"""The conductors of an old bundle from one line: as they stand in the file, and what is refused."""

from __future__ import annotations

import pytest

from commission.authoring.draft import Kinds, usual_supply
from commission.authoring.evenly import Answers, drawn_evenly
from commission.authoring.old_bundle import with_bundle
from commission.authoring.writing import site_text
from commission.site.load import parse_site
from commission.site.schema import Site

OWN = Kinds(cable={"common": {"conductor": "10 AWG"}})


def site_with(words: str) -> Site:
    """Two paths of three boxes in 14 AWG, with a bundle."""
    answers = Answers("A site", "US", usual_supply("US"), (2,), "14 AWG", (3, 3), "100 ft", 1)
    draft = with_bundle(drawn_evenly(answers, OWN), words, OWN)
    return parse_site(site_text(draft).encode("utf-8"), "s.toml")


def test_each_has_its_size_and_the_boxes_that_it_passes() -> None:
    site = site_with("white common; red, 3 2,5 mm² to A2, blue to B1,")
    one, other = site.path
    assert not one.new_cable
    assert not other.new_cable
    told = [(old.id, old.cable, old.passes) for old in one.conductor]
    assert told == [
        ("white", "common", ()), ("red", None, ()),
        ("3", "cable-2.5mm2", ("output", "A1", "A2")), ("blue", None, ()),
    ]  # fmt: skip
    assert [old.passes for old in other.conductor] == [(), (), (), ("output", "B1")]
    sizes = {name: kind.conductor for name, kind in site.cable_kind.items()}
    assert sizes == {"common": "10 AWG", "cable-2.5mm2": "2.5 mm²", "cable-14": "14 AWG"}


def test_without_words_the_cable_is_new() -> None:
    site = site_with("")
    assert all(path.new_cable and not path.conductor for path in site.path)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("red", "one conductor is no pair"),
        ("red, blue, red", "'red' is named twice"),
        ("red, blue to A9", "there is no box 'A9'"),
        ("red thick, blue", "red: 'thick': write a size"),
        ("1,2,3", "'1,2,3' is no conductor"),
        ("a-name-that-is-too-long, blue", "is no conductor; write it as in"),
    ],
)
def test_what_names_no_bundle_is_refused(words: str, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        site_with(words)
