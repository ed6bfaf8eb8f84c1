"""Forms for cables, boxes and paths that are not as drawn."""

from __future__ import annotations

from dataclasses import replace
from typing import get_args

from commission.authoring.catalogue import cable_named
from commission.authoring.draft import Kinds
from commission.problems import InputRefused
from commission.site.changes.kinds import (
    AddBox,
    AddEnd,
    Cable,
    Change,
    ChangeBox,
    DeleteBox,
    Description,
    Length,
    Rename,
)
from commission.site.changes.words import SO_ALREADY
from commission.site.schema import ROOT, LengthBy, Path
from commission.tui.answers import checked_length
from commission.tui.changes.ground import Ground
from commission.tui.screens.form import Line, LineRefused

Values = dict[str, str]
BY = get_args(LengthBy)


class CableForms:
    """The lines of each form, and the change that its answers mean."""

    def __init__(self, ground: Ground) -> None:
        self._ground = ground

    def length(self) -> list[Line]:
        """The length of the cable to a box, and how it was obtained."""
        ground = self._ground
        return [
            ground.boxes("box", "The cable that leads to box"),
            Line(
                "length", "Length, with its unit", needed='such as "180 ft"', follows=ground.length
            ),
            Line("by", "Taken by", "", BY, needed="say how", follows=ground.length_by),
        ]

    def made_length(self, values: Values) -> Change:
        """What is another: the length, how it was obtained, or both."""
        ground = self._ground
        path, segment = ground.named(values)
        same_length = values["length"] == ground.length(segment.to_box)
        same_by = values["by"] == ground.length_by(segment.to_box)
        if same_length and same_by:
            raise LineRefused("length", SO_ALREADY)
        length = "" if same_length else checked_length(values, "length", ground.units)
        return Length(path.id, segment.to_box, length, "" if same_by else values["by"])

    def _cables(self, label: str, hint: str = "") -> Line:
        """A line for a kind of cable by name or number, or for a size."""
        offered = self._ground.kinds.cable
        words = " ".join(one for one in (offered.hint, hint, "Or a size: 16 AWG, 2.5 mm².") if one)
        return Line("cable", label, "", offered.names, words, free=True)

    def _taken(self, words: str) -> tuple[str, Description]:
        """The kind or size that was meant, and its description where the site has it not."""
        offered = self._ground.kinds.cable
        if words in offered.names:
            return words, offered.described(words)
        try:
            _, kind = cable_named(words, Kinds())
        except ValueError:
            remedy = "take a kind by its number, or write a size, as 14 AWG or 2.5 mm²"
            raise LineRefused("cable", remedy) from None
        return str(kind["conductor"]), ()

    def cable(self) -> list[Line]:
        """The cable to a box."""
        line = self._cables("Its cable")
        follows = self._ground.cable
        return [
            self._ground.boxes("box", "The cable that leads to box"),
            replace(line, needed='such as "16 AWG" or "2.5 mm²"', follows=follows),
        ]

    def made_cable(self, values: Values) -> Change:
        """Another kind or size."""
        path, segment = self._ground.named(values)
        if values["cable"] == self._ground.cable(segment.to_box):
            raise LineRefused("cable", SO_ALREADY)
        name, description = self._taken(values["cable"])
        return Cable(path.id, segment.to_box, name, description)

    def box(self) -> list[Line]:
        """A box in the middle of a cable."""
        ground = self._ground
        before = ground.boxes("before", "In the cable that leads to box")
        drawn = f"To {before.value} it is {ground.length(before.value)} in one, as drawn."
        return [
            before,
            Line("first", "Length up to the new box", needed='such as "60 ft"', hint=drawn),
            Line("second", "Length on from it", needed='such as "80 ft"'),
            Line("label", "Label"),
            Line("location", "Where it is"),
            ground.new_box(),
        ]

    def made_box(self, values: Values) -> Change:
        """The box with both lengths."""
        ground = self._ground
        path, segment = ground.named(values, "before")
        first, second = (checked_length(values, key, ground.units) for key in ("first", "second"))
        ground.refuse_taken(values["id"])
        told = values["label"], values["location"]
        return AddBox(path.id, segment.to_box, values["id"], first, second, *told)

    def end(self) -> list[Line]:
        """More cable, with a box at its end."""
        paths = tuple(path.id for path in self._ground.site.path)
        start = self._ground.boxes("from", "From box, or output", terminals=True)
        path = Line("path", "Path, where it starts at the output", self._ground.path.id, paths)
        return [
            start,
            *([path] if len(paths) > 1 else []),
            Line("length", "Length of the cable", needed='such as "60 ft"'),
            self._cables("Its cable", "Empty: as the path's."),
            Line("label", "Label of the new box"),
            Line("location", "Where it is"),
            self._ground.new_box(),
        ]

    def made_end(self, values: Values) -> Change:
        """The cable and its box."""
        ground = self._ground
        if values["from"].lower() == ROOT:
            start = ROOT
            path = values.get("path", ground.path.id)
            if path not in [one.id for one in ground.site.path]:
                raise LineRefused("path", "name the path that the cable belongs to")
        else:
            found, segment = ground.named(values, "from")
            path, start = found.id, segment.to_box
        length = checked_length(values, "length", ground.units)
        cable, description = self._taken(values["cable"]) if values["cable"] else ("", ())
        ground.refuse_taken(values["id"])
        told = values["label"], values["location"]
        return AddEnd(path, start, values["id"], length, cable, *told, description)

    def gone(self) -> list[Line]:
        """A box that is not there."""
        return [self._ground.boxes("box", "Box")]

    def made_gone(self, values: Values) -> Change:
        """The box goes, or two cables become one."""
        path, segment = self._ground.named(values)
        return DeleteBox(path.id, segment.to_box)

    def words(self) -> list[Line]:
        """Label and place of a box."""
        ground = self._ground
        return [
            ground.boxes("box", "Box"),
            Line("label", "Label; empty: none", follows=lambda box: ground.told(box, "label")),
            Line(
                "location", "Where it is; empty: not told",
                follows=lambda box: ground.told(box, "location"),
            ),
        ]  # fmt: skip

    def made_words(self, values: Values) -> Change:
        """What of both is another."""
        path, segment = self._ground.named(values)
        told = {key: self._ground.told(segment.to_box, key) for key in ("label", "location")}
        other = {key: values[key] for key, was in told.items() if values[key] != was}
        if not other:
            raise InputRefused(SO_ALREADY)
        return ChangeBox(path.id, segment.to_box, **other)

    def _path(self, named: str) -> Path | None:
        return next((path for path in self._ground.site.path if path.id == named), None)

    def label(self) -> list[Line]:
        """The label of a path."""
        paths = tuple(path.id for path in self._ground.site.path)

        def now(named: str) -> str:
            path = self._path(named)
            return path.label if path else ""

        return [
            Line("path", "Path", self._ground.path.id, paths, needed="name the path"),
            Line("label", "Label; empty: none", follows=now),
        ]

    def made_label(self, values: Values) -> Change:
        """Another label."""
        path = self._path(values["path"])
        if path is None:
            raise LineRefused("path", f"there is no path '{values['path']}'")
        if path.label == values["label"]:
            raise InputRefused(SO_ALREADY)
        return Rename("path", path.id, values["label"])
