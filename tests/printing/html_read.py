"""A printed page read back by the parser of the standard library: elements, text, cells."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser

VOID = {"meta", "col"}


@dataclass
class Element:
    """An element with what lies in it, in order: texts and other elements."""

    name: str
    attributes: dict[str, str | None]
    inside: list[Element | str] = field(default_factory=list)

    @property
    def text(self) -> str:
        """All text in it."""
        return "".join(one if isinstance(one, str) else one.text for one in self.inside)

    def all(self, name: str = "", kind: str = "") -> list[Element]:
        """Every element in it, of a name and a class."""
        found = []
        for one in self.inside:
            if isinstance(one, Element):
                named = name in ("", one.name)
                if named and (not kind or kind in str(one.attributes.get("class")).split()):
                    found.append(one)
                found += one.all(name, kind)
        return found


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.root = Element("", {})
        self._open = [self.root]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        element = Element(tag, dict(attrs))
        self._open[-1].inside.append(element)
        if tag not in VOID:
            self._open.append(element)

    def handle_endtag(self, tag: str) -> None:
        assert self._open.pop().name == tag, f"</{tag}> closes another element"

    def handle_data(self, data: str) -> None:
        self._open[-1].inside.append(data)

    def close(self) -> None:
        super().close()
        assert self._open == [self.root], "an element is never closed"


def read_html(text: str) -> Element:
    """The root of a page; every element in it must be closed in its turn."""
    reader = _Reader()
    reader.feed(text)
    reader.close()
    return reader.root
