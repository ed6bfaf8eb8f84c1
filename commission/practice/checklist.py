"""The checklist of a practice: of the one for a new installation what the readings need."""

from __future__ import annotations

import json
import re

_STAGES = ("path-dead", "switching-on", "path-live", "stations")
_ITEMS = {"before-work": ("isolate",)}  # of other stages these alone
_LEFT_OUT = ("other-valve", "coil", "closing-time", "station-voltage", "valve-supplied")
_BLOCK = re.compile(r"^\[\[stage(?:\.item)?\]\]$", re.MULTILINE)
_TITLE = 'title = "Practice"\nabout = "From dead tests to every station, on an invented site."'


def practice_checklist(full: str) -> str:
    """The text of a checklist with the stages of a practice, from that of the full one."""
    starts = [match.start() for match in _BLOCK.finditer(full)]
    head = re.sub(r"^title = .*\nabout = .*$", _TITLE, full[: starts[0]], flags=re.MULTILINE)
    kept, stage = [re.sub(r"(?m)^#.*\n", "", head)], ""
    for start, end in zip(starts, [*starts[1:], len(full)], strict=True):
        block = re.sub(r"(?m)^# -{5,}.*\n", "", full[start:end])
        named = re.search(r'^id = "([^"]+)"', block, re.MULTILINE)
        name = named[1] if named else ""
        if block.startswith("[[stage]]"):
            stage = name
            if stage in (*_STAGES, *_ITEMS):
                kept.append(block)
        elif name not in _LEFT_OUT and (stage in _STAGES or name in _ITEMS.get(stage, ())):
            kept.append(block)
    text = "".join(kept)
    names = set(re.findall(r'^id = "([^"]+)"', text, re.MULTILINE))

    def those_kept(match: re.Match[str]) -> str:
        others = [name for name in re.findall(r'"([^"]+)"', match[1]) if name in names]
        return f"reopened_by = {json.dumps(others)}"

    return re.sub(r"^reopened_by = \[(.*)\]$", those_kept, text, flags=re.MULTILINE)
