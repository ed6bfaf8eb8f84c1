"""`commission expect`: what should be measured, as a sheet to read or for other programs."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from commission.commands.say import say
from commission.problems import EXIT_DONE, InputRefused, nearest

if TYPE_CHECKING:
    from commission.expected.sheet import Sheet


def run(options: argparse.Namespace) -> int:
    """Print the sheet of a site, or of a job as it was begun."""
    from commission.expected.sheet import Sheet
    from commission.host import Disk
    from commission.opening import site_of

    if options.output is not None and not options.netlist:
        raise InputRefused("--output goes with --netlist: the sheet shows every output")
    sheet = Sheet(site_of(options.target, Disk()))
    if options.netlist:
        say(_netlist(sheet, options.output))
    elif options.json:
        from commission.commands.expect_json import document
        from commission.commands.for_programs import json_text

        say(json_text(document(sheet)))
    else:
        from commission.commands.expect_sheet import text

        say(text(sheet))
    return EXIT_DONE


def _netlist(sheet: Sheet, chosen: str | None) -> str:
    """The worst set of every output, or of the one chosen, for a circuit simulator."""
    from commission.expected.model import working_case
    from commission.expected.netlist import netlist

    outputs = list(sheet.drawing.outputs)
    if chosen is not None and chosen not in outputs:
        raise InputRefused(f"there is no output of that id; {nearest(chosen, outputs)}")
    wanted = outputs if chosen is None else [chosen]
    return netlist([working_case(sheet.drawing, output) for output in wanted])
