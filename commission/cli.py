"""The commands: words in, an exit code out; every command loads only what it needs.

Exit codes: 0 done, 1 findings, 2 input or usage refused, 3 held by another, 4 could not write.
"""

from __future__ import annotations

import argparse
import gc
import importlib
import sys
from collections.abc import Sequence
from typing import Any, NoReturn

from commission.commands.say import complain, finish, leave, say
from commission.electrical.network import COLLAPSE_REMEDY, CollapseError
from commission.problems import EXIT_DONE, EXIT_REFUSED, CommissionError, InputRefused

EPILOG = """\
exit codes: 0 done, 1 findings, 2 input or usage refused, 3 held by another, 4 could not write

Mains at the controller: isolate, lock off, prove dead; a licensed person works on the supply.
Local codes and the authority having jurisdiction decide; the limits here are defaults.
"""
SIGNALS = 128  # an exit code from here on: a signal ended it
INTERRUPTED = 130  # 128 + SIGINT, as shells count


class _Parser(argparse.ArgumentParser):
    """A parser whose words cannot steer a terminal, and whose help is never lost silently."""

    def print_help(self, file: Any = None) -> None:
        say(self.format_help().rstrip("\n"))

    def error(self, message: str) -> NoReturn:
        complain(f"{message}\n{self.format_usage().strip()}\n'{self.prog} --help' says more")
        raise SystemExit(EXIT_REFUSED)


def parser() -> argparse.ArgumentParser:
    """Every command with its arguments."""
    top = _Parser(
        prog="commission",
        description="Commission a two-wire 24 V a.c. irrigation decoder system, step by step.\n"
        "Without a command: the start screen, from which everything can be begun.",
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    top.add_argument("--version", action="store_true", help="print the version and end")
    commands = top.add_subparsers(dest="command", metavar="COMMAND", parser_class=_Parser)

    def command(name: str, words: str) -> argparse.ArgumentParser:
        return commands.add_parser(name, help=words, description=words[0].upper() + words[1:] + ".")

    a_site = "a site file, a job's folder, or the name of a sample"
    _open_arguments(
        command("open", "walk through the commissioning of a site, full screen"), a_site
    )
    _new_arguments(command("new", "write a site file: by a form, from a list, or from a report"))
    edit = command("edit", "edit a site file on screen, with what each change does")
    edit.add_argument("target", metavar="SITE", help="a site file, or the name of a sample")
    expect = command("expect", "print what should be measured at a site, with ranges and limits")
    _expect_arguments(expect, a_site)
    size = command("size", "print how far each cable reaches; or, of a site, what to enlarge")
    _size_arguments(size, a_site)
    check = command("check", "print every problem of site files, checklists, jobs and reports")
    check.add_argument("files", metavar="FILE", nargs="+", help="a file, or a job's folder")
    report = command("report", "print where a signed report lies, or the draft of one not signed")
    report.add_argument("target", metavar="JOB", help="a job's folder, or a site with one job")
    _tablet_arguments(command("tablet", "serve the walk to a browser, on this machine"), a_site)
    _practice_arguments(command("practice", "walk through an invented site with hidden faults"))
    locate = command("locate", "print what is wrong in a job, how sure that is, and the next test")
    locate.add_argument("target", metavar="JOB", help="a job's folder, or a site with one job")
    locate.add_argument("--json", action="store_true", help="for programs: one JSON document")
    _convert_arguments(command("convert", "print which conductors of an old bundle to use"))
    _print_arguments(command("print", "write what is taken along on paper, to print"), a_site)
    _enter_arguments(command("enter", "keep what was written on paper in the field in a job"))
    _compare_arguments(command("compare", "print what changed between two reports of a site"))
    _review_arguments(
        command("review", "recompute reports from their own bytes and tell what was found")
    )
    _signers_arguments(command("signers", "list the known signers; take one in, or out"))
    jobs = command("jobs", "list the jobs of a site")
    jobs.add_argument("target", metavar="SITE", help="a site file, or the name of a sample")
    command("samples", "list the invented sites that come with the program")
    schema = command("schema", "print the JSON Schema of a kind of file, for editors")
    schema.add_argument("what", metavar="site|checklist", choices=("site", "checklist"))
    return top


def _open_arguments(walk: argparse.ArgumentParser, a_site: str) -> None:
    """The arguments of `open`."""
    walk.add_argument(
        "target",
        metavar="SITE|JOB|REPORT",
        nargs="?",
        help=f"{a_site}; with --job also a signed report; without: the start screen",
    )
    walk.add_argument(
        "--job", metavar="KIND",
        help="kind of job: new (an installation), converted, added, inspection, recheck",
    )  # fmt: skip
    walk.add_argument(
        "--new", action="store_true", help="begin another job though one is open already"
    )
    walk.add_argument("--checklist", metavar="FILE", help="a checklist of your own for a new job")


def _new_arguments(new: argparse.ArgumentParser) -> None:
    """The arguments of `new`."""
    new.add_argument(
        "file", metavar="FILE", help="the site file to write; one that is there is kept"
    )
    new.add_argument(
        "--from", dest="source", metavar="LIST.csv|REPORT",
        help="a list of stations, or the report of an earlier phase; without: a form",
    )  # fmt: skip
    new.add_argument("--name", metavar="NAME", help="with a list: the site's name")
    new.add_argument("--units", metavar="US|SI", choices=("US", "SI"), help="with a list: shown in")
    new.add_argument(
        "--cable", metavar="CABLE", default="", help="with a list: where it names none"
    )
    new.add_argument(
        "--solenoid", metavar="KIND", default="", help="with a list: a kind of your kinds.toml"
    )
    new.add_argument("--decoder", metavar="KIND", default="", help="the same for decoders")
    new.add_argument(
        "--at-once", metavar="N", type=int, default=1, help="with a list: stations run together"
    )
    new.add_argument("--mains", metavar="MAINS", default="", help='with a list: as "127 V; 60 Hz"')
    new.add_argument(
        "--transformer", metavar="PLATE", action="append", default=[],
        help='with a list: as "24 V; 60 VA; 12 %%"; once for each output, or for all',
    )  # fmt: skip
    new.add_argument(
        "--yes", action="store_true",
        help="write it without asking; a file that is there is asked about all the same",
    )  # fmt: skip


def _expect_arguments(expect: argparse.ArgumentParser, a_site: str) -> None:
    """The arguments of `expect`."""
    expect.add_argument("target", metavar="SITE|JOB", help=a_site)
    form = expect.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="for programs: one JSON document")
    form.add_argument(
        "--netlist", action="store_true",
        help="for a circuit simulator: the worst set of every output as a SPICE netlist",
    )  # fmt: skip
    expect.add_argument("--output", metavar="ID", help="with --netlist: this output alone")


def _signers_arguments(signers: argparse.ArgumentParser) -> None:
    """The arguments of `signers`."""
    signers.add_argument("--know", metavar="REPORT", help="take in the key of a sign-off of it")
    signers.add_argument(
        "--number", metavar="N", type=int, help="with --know: of this sign-off; without it the only"
    )
    signers.add_argument("--forget", metavar="FINGERPRINT", help="take a key out")


def _convert_arguments(convert: argparse.ArgumentParser) -> None:
    """The arguments of `convert`."""
    convert.add_argument("target", metavar="JOB", help="a job's folder, or a site with one job")
    convert.add_argument(
        "--output", metavar="FILE", help="a new site file to write, with the pairs"
    )
    convert.add_argument("--json", action="store_true", help="for programs: one JSON document")


def _print_arguments(sheet: argparse.ArgumentParser, a_site: str) -> None:
    """The arguments of `print`."""
    words = f"{a_site}; or a report"
    sheet.add_argument("target", metavar="SITE|JOB|REPORT", help=words)
    sheet.add_argument("--job", metavar="KIND", help="with a site: kind of job, as for open")
    sheet.add_argument("--output", metavar="FILE", help="a new file to write, HTML")


def _enter_arguments(enter: argparse.ArgumentParser) -> None:
    """The arguments of `enter`: a job, and the list from the field."""
    enter.add_argument("target", metavar="JOB", help="a job's folder, or a site with one job")
    enter.add_argument(
        "readings", metavar="READINGS.csv", help="step, reading, observer, time, ..."
    )
    enter.add_argument("--by", metavar="NAME", help="who enters it; without it whoever did last")
    enter.add_argument(
        "--yes", action="store_true", help="keep readings more than ten times off as written"
    )


def _practice_arguments(practice: argparse.ArgumentParser) -> None:
    """The arguments of `practice`."""
    practice.add_argument(
        "--faults", metavar="N", type=int, default=1, help="how many, 1 to 3; without it 1"
    )
    practice.add_argument(
        "--difficulty", metavar="easy|plain|hard", choices=("easy", "plain", "hard"),
        default="easy", help="how large the site is and what may be wrong; without it easy",
    )  # fmt: skip
    practice.add_argument(
        "--random", metavar="N", type=int, help="the same number hides the same faults again"
    )


def _tablet_arguments(tablet: argparse.ArgumentParser, a_site: str) -> None:
    """The arguments of `tablet`."""
    tablet.add_argument("target", metavar="SITE|JOB", help=a_site)
    tablet.add_argument(
        "--host", metavar="ADDRESS", default="127.0.0.1",
        help="address of this machine to answer at; without it 127.0.0.1, this machine alone",
    )  # fmt: skip
    tablet.add_argument(
        "--port", metavar="N", type=int, default=8640, help="port; without it 8640, 0 for any free"
    )


def _compare_arguments(compare: argparse.ArgumentParser) -> None:
    """The arguments of `compare`: two reports."""
    for name in ("earlier", "later"):
        words = f"the {name} one: a report, or a job's folder"
        compare.add_argument(name, metavar=name.upper(), help=words)
    compare.add_argument("--json", action="store_true", help="for programs: one JSON document")


def _size_arguments(size: argparse.ArgumentParser, a_site: str) -> None:
    """The arguments of `size`: those of the chart, or a site."""
    size.add_argument("target", metavar="SITE|JOB", nargs="?", help=f"{a_site}; without: a chart")
    size.add_argument("--source", metavar="VOLTAGE", help="of the source, under load")
    size.add_argument("--minimum", metavar="VOLTAGE", help="least at the solenoid")
    size.add_argument("--current", metavar="CURRENT", help="inrush of one solenoid")
    size.add_argument("--soil", metavar="TEMPERATURE", help="of the soil when it is warmest")
    size.add_argument("--solenoids", metavar="NUMBER", help="active at most, at the cable's end")
    size.add_argument(
        "--cable", metavar="SIZE", action="append", help='"14 AWG", "2.5 mm²"; several may be given'
    )
    size.add_argument("--units", metavar="US|SI", choices=("US", "SI"), help="feet or metres")
    size.add_argument("--json", action="store_true", help="for programs: one JSON document")


def _review_arguments(review: argparse.ArgumentParser) -> None:
    """The arguments of `review`."""
    review.add_argument(
        "reports", metavar="REPORT|FOLDER", nargs="+", help="a report, or a folder to look through"
    )
    form = review.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="for programs: one JSON document")
    form.add_argument("--csv", action="store_true", help="for spreadsheets: one row for each")
    review.add_argument(
        "--digest", metavar="SHA256", help="of one report: is it the file with this digest?"
    )
    review.add_argument(
        "--tsa-ca", metavar="FILE", help="certificates to trust for timestamp tokens (RFC 3161)"
    )
    review.set_defaults(from_start=False)  # a folder chosen there is looked through on a screen


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; errors are words, never a traceback."""
    gc.disable()  # nothing of a start is garbage: collecting while importing only costs time
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        return _printed(_run(arguments))
    except CommissionError as error:
        complain(str(error))
        return error.exit_code
    except CollapseError as error:
        complain(f"this site cannot work: {error}; {COLLAPSE_REMEDY}")
        return EXIT_REFUSED
    except KeyboardInterrupt:
        complain("interrupted; every confirmed answer is on disk")
        return INTERRUPTED
    except BrokenPipeError:  # whoever read the output has gone: end quietly
        leave(sys.stdout)
        return EXIT_DONE
    except Exception as error:
        from commission.commands.crash import report_crash

        return report_crash(error)
    finally:
        gc.enable()


def _printed(code: int) -> int:
    """An exit code, once all that was printed is out."""
    finish()
    return code


def _run(arguments: Sequence[str] | None) -> int:
    top = parser()
    try:
        options = top.parse_args(arguments)
    except SystemExit as done:  # argparse ends the program itself; a command returns a code
        return done.code if isinstance(done.code, int) else EXIT_REFUSED
    if options.version:
        from commission import __version__

        say(f"commission {__version__}")
        return EXIT_DONE
    if options.command is None:
        from commission.commands.open import has_terminal

        if has_terminal():
            return _from_start()
        complain(top.format_help())
        return EXIT_REFUSED
    return _command(options)


def _from_start() -> int:
    """The start screen again and again, and what was chosen there, until the person leaves."""
    from commission.commands.start import choose, is_full_screen, wait_for_reader

    said = ""
    while not isinstance(chosen := choose(said), int):
        said, code = "", EXIT_DONE
        try:
            options = parser().parse_args(chosen)
            options.from_start = True
            code = _command(options)
        except CommissionError as error:
            if error.exit_code >= SIGNALS:
                raise
            said = str(error)
            continue
        if code >= SIGNALS:
            return code
        if not is_full_screen(chosen):
            wait_for_reader()
    return chosen


def _open_nothing(options: argparse.Namespace) -> int:
    """`open` alone is the start screen; what goes with a site can't go without one."""
    from commission.commands.open import has_terminal

    if options.job or options.new or options.checklist or not has_terminal():
        raise InputRefused("name a site, a job or a report: 'commission open --help' says more")
    return _from_start()


def _command(options: argparse.Namespace) -> int:
    if options.command == "open" and options.target is None:
        return _open_nothing(options)
    if options.command != "open":
        gc.enable()
    module = importlib.import_module(f"commission.commands.{options.command}")
    return int(module.run(options))
