"""What a change of a site does to its expected values, found aside and shown as it comes."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from commission.editing.edition import Version
from commission.electrical.network import COLLAPSE_REMEDY, CollapseError
from commission.electrical.worst_set import SearchCancelled
from commission.expected.numbers import Differences, Number, differences, numbers
from commission.expected.sheet import Sheet
from commission.text import counted

SEARCHING = "looking for the worst set..."


class Consequences:
    """Computes the expected values of versions, each once while it is looked at."""

    def __init__(self) -> None:
        self._known: dict[str, tuple[Number, ...]] = {}  # by the text of a version

    def forget_all_but(self, *versions: Version) -> None:
        """Keep what is known of these alone."""
        texts = {version.text for version in versions}
        self._known = {text: found for text, found in self._known.items() if text in texts}

    def of(
        self, before: Version, after: Version, cancelled: Callable[[], bool]
    ) -> Iterator[tuple[Differences, str]]:
        """What differs so far, and what to say of it; the last portion is the whole."""
        try:
            old = self._all(before, cancelled)
            now = self._known.get(after.text, ())
            if not now:
                for portion in numbers(Sheet(after.site), cancelled):
                    now += portion
                    yield differences(old, now, whole=False), SEARCHING
                self._keep(after, now)
        except SearchCancelled:
            return
        except CollapseError as error:
            yield Differences(), f"nothing can be expected: {error}; {COLLAPSE_REMEDY}"
            return
        found_all = differences(old, now)
        yield found_all, _summary(found_all)

    def _all(self, version: Version, cancelled: Callable[[], bool]) -> tuple[Number, ...]:
        found = self._known.get(version.text, ())
        if not found:
            portions = numbers(Sheet(version.site), cancelled)
            found = tuple(one for portion in portions for one in portion)
            self._keep(version, found)
        return found

    def _keep(self, version: Version, found: tuple[Number, ...]) -> None:
        """Remember it, in another dictionary: the screen may be going through this one."""
        self._known = {**self._known, version.text: found}


def _summary(found: Differences) -> str:
    count = len(found.shown)
    if found.unseen:  # short: it stands behind the views, in 80 columns
        return f"{count or 'none'} changed; {found.unseen} too little to show"
    return f"{counted(count, 'value') if count else 'no value'} changed"
