"""The kinds that a form offers by name: the site's own, then those of the user's own file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from commission.authoring.catalogue import NAME, own_kinds
from commission.authoring.draft import Kind, Kinds
from commission.problems import InputRefused
from commission.shapes import build
from commission.site.changes.kinds import Description
from commission.site.schema import CableKind, DecoderKind, Site, SolenoidKind
from commission.text import visible
from commission.user.folder import config_folder

MOST_TOLD = 120  # characters of what is wrong with the user's own file


@dataclass(frozen=True, slots=True)
class Offered:
    """Kinds of one sort by name; what is taken from the user's file goes along with the change."""

    names: tuple[str, ...]  # those of the site first
    own: Mapping[str, Description] = field(default_factory=dict)
    hint: str = ""

    def described(self, name: str) -> Description:
        """The description of a kind that the site has not; nothing for one that it has."""
        return self.own.get(name, ())


class KindsOffered:
    """Cable, decoder and solenoid kinds for the forms of one site.

    A kind of the user's that is called like one of the site's is not offered: the site's counts.
    A file of kinds that can't be used is told of; what the site has is offered all the same.
    """

    def __init__(self, site: Site) -> None:
        own, self._wrong = Kinds(), ""
        try:
            own = own_kinds(config_folder() / NAME)
        except InputRefused as error:
            self._wrong = f"Your {NAME} is not offered: {visible(str(error), MOST_TOLD)}"
        self.cable = self._offered(CableKind, site.cable_kind, own.cable)
        self.decoder = self._offered(DecoderKind, site.decoder_kind, own.decoder)
        self.solenoid = self._offered(SolenoidKind, site.solenoid_kind, own.solenoid)

    def _offered(
        self, shape: type[object], there: Mapping[str, object], own: Mapping[str, Kind]
    ) -> Offered:
        new = {name: _description(kind) for name, kind in own.items() if name not in there}
        other = [
            name
            for name, kind in own.items()
            if name in there and build(shape, kind) != there[name]
        ]
        hints = [self._wrong] if self._wrong else []
        if other:
            hints.append(f"The site's {', '.join(other)} is another than in your {NAME}.")
        if new:
            hints.append(f"From your {NAME}, copied along: {', '.join(new)}.")
        return Offered((*there, *new), new, "  ".join(hints))


def _description(kind: Kind) -> Description:
    return tuple((key, value) for key, value in kind.items() if isinstance(value, (str, int)))
