"""`commission new`: a site file from a few answers, from a list of stations, or from a report."""

from __future__ import annotations

import argparse
import shlex
import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from commission.commands.say import long_look, say
from commission.host import Disk
from commission.problems import EXIT_DONE, InputRefused
from commission.text import visible
from commission.toml_place import stated_kind

if TYPE_CHECKING:
    from commission.authoring.draft import Kinds, Supply, Units
    from commission.authoring.station_list import StationList
    from commission.tui.new_questions import Questions


def run(options: argparse.Namespace) -> int:
    """Write a new site file; nothing is written before it was shown what it comes to."""
    from commission.asked import is_there, read_file
    from commission.authoring.catalogue import NAME, own_kinds
    from commission.commands.open import refuse_without_terminal
    from commission.user.folder import config_folder

    disk, path = Disk(), Path(options.file)
    if is_there(path) and not path.is_file():
        raise InputRefused(f"{visible(options.file)} is no file; name another")
    if options.source is not None and is_there(path) and not _can_ask():
        words = f"{visible(options.file)} is there already, and is replaced only when asked"
        raise InputRefused(f"{words}; run it in a terminal, name another file or move that one")
    own = own_kinds(config_folder() / NAME)
    if options.source is None:
        refuse_without_terminal()
        from commission.tui.new_answers import Evenly

        return _by_form(path, Evenly(own), disk)
    content = read_file(disk, Path(options.source))
    name = visible(Path(options.source).name)
    if stated_kind(content) == "commission report":
        from commission.authoring.from_report import site_of_report

        with long_look(name):
            text = site_of_report(content, name)
        return _written(text, path, disk, sure=options.yes)
    return _of_list(content, name, options, own)


def _of_list(content: bytes, name: str, options: argparse.Namespace, own: Kinds) -> int:
    """The site of a list: by forms where there is a terminal to draw them in, else as options say.

    An option about the supply answers what the forms would ask, so none is shown.
    """
    from commission.authoring.station_list import parse
    from commission.commands.open import has_terminal

    for key, known in (("solenoid", own.solenoid), ("decoder", own.decoder)):
        wanted = getattr(options, key)
        if wanted and wanted not in known:
            raise InputRefused(f"there is no {key} '{visible(wanted, 40)}' in your kinds.toml")
    path, disk, listed = Path(options.file), Disk(), parse(content, name)
    title, units = options.name or path.stem, options.units or listed.units
    if options.yes or options.mains or options.transformer or not has_terminal():
        text = _from_list(listed, title, units, options, own)
        return _written(text, path, disk, sure=options.yes)
    from commission.tui.new_listed import Listed, Offered

    offered = Offered(
        title, units, options.at_once, options.cable, options.solenoid, options.decoder
    )
    return _by_form(path, Listed(listed, own, offered), disk)


def _by_form(path: Path, questions: Questions, disk: Disk) -> int:
    from commission.tui.new_app import ask

    written = ask(path, questions, disk)
    if written is None:
        return _nothing()
    if written.kept is not None:
        say(f"What was there before is {visible(str(written.kept))}")
    _say_next(path)
    return EXIT_DONE


def _from_list(
    listed: StationList, title: str, units: Units, options: argparse.Namespace, own: Kinds
) -> str:
    """The site file that a list describes; says first how the list was understood."""
    from commission.authoring.from_list import Choices, drawn_from
    from commission.authoring.shown import assumed_lines
    from commission.authoring.writing import site_text

    for line in listed.lines():
        say(line)
    where = {
        "site.name": "--name" if options.name else "the file's name",
        "site.units": "--units" if options.units else "as the list measures",
    }
    supply = _supply(units, options)
    choices = Choices(title, units, supply, options.cable, options.solenoid, options.decoder, where)
    draft, problems = drawn_from(listed, choices, own)
    if problems:
        raise InputRefused(problems)
    outputs = len({path.output for path in draft.paths})
    if len(options.transformer) > outputs:
        raise InputRefused(f"--transformer: there are more of them than outputs, {outputs}")
    for line in assumed_lines(draft.assumed):
        say(line)
    return site_text(draft)


def _supply(units: Units, options: argparse.Namespace) -> Supply:
    """Mains and transformers as the options say; what they don't is usual."""
    from commission.authoring.draft import Supply, usual_supply
    from commission.authoring.transformer import (
        AnswerRefused,
        mains_on_one_line,
        plate_of,
        transformer_of,
    )

    usual = usual_supply(units, options.at_once)
    option = "--mains"
    try:
        mains = mains_on_one_line(
            options.mains, {"mains": usual.mains, "frequency": usual.frequency}
        )
        option = "--transformer"
        plates = tuple(transformer_of(plate_of(words)) for words in options.transformer)
    except AnswerRefused as refused:
        raise InputRefused(f"{option}: {refused}") from None
    transformers = plates or usual.transformers
    return Supply(mains["mains"], mains["frequency"], options.at_once, transformers)


def _written(text: str, path: Path, disk: Disk, *, sure: bool) -> int:
    """Show what the file comes to, ask, and write it; `sure` never answers for a file replaced."""
    from commission.asked import is_there
    from commission.authoring.shown import summary
    from commission.new_file import kept_name, replace_file, write_new_file
    from commission.site.load import parse_site

    for line in summary(parse_site(text.encode("utf-8"), visible(path.name))):
        say(line)
    named, at = visible(str(path)), datetime.now()
    if is_there(path):
        kept = visible(kept_name(path, disk, at).name)
        if not _agreed(f"{named} is there already. Keep it as {kept}, and write the new one?"):
            return _nothing()
        kept = visible(str(replace_file(text, path, disk, at)))
        say(f"What was there before is {kept}")
    else:
        if not sure and not _can_ask():
            raise InputRefused("nothing was written; add --yes to write it")
        if not sure and not _agreed(f"Write {named}?"):
            return _nothing()
        write_new_file(text, str(path), path, disk)
    _say_next(path)
    return EXIT_DONE


def _can_ask() -> bool:
    return bool(sys.stdin and sys.stdin.isatty())


def _agreed(question: str) -> bool:
    """Whether somebody says yes; anything else is no."""
    try:
        answer = input(f"{question} yes or no [no]: ")
    except EOFError:
        say("")
        return False
    return answer.strip().casefold() in ("y", "yes")


def _nothing() -> int:
    say("Nothing was written")
    return EXIT_DONE


def _say_next(path: Path) -> None:
    named = shlex.quote(str(path))
    say(str(path))
    say(f"Look it over: commission edit {named}; then: commission check {named}")
    say(f"Print what to expect: commission expect {named}")
