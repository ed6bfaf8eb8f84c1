"""The netlist of the worst set, run by ngspice as it is, against the numbers of the sheet."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from random import Random, SystemRandom

import pytest

from commission import cli
from commission.commands.expect_json import document
from commission.expected.model import OutputModel, working_case
from commission.expected.netlist import netlist
from commission.expected.sheet import Sheet
from commission.resources import samples
from commission.site.load import parse_site
from commission.site.schema import Output, Segment, Site
from tests.expected.random_sites import random_site

AGREES = 1e-6  # relative; ngspice prints 13 digits here
FIXED_STATES = range(20)
Text = pytest.CaptureFixture[str]


def sample(name: str) -> Sheet:
    """A sample's sheet."""
    return Sheet(parse_site(samples()[name].read_bytes(), name))


def models(sheet: Sheet) -> list[OutputModel]:
    """Every output of a site in the working case."""
    return [working_case(sheet.drawing, output.id) for output in sheet.site.output]


def simulated(text: str, folder: Path) -> dict[str, float]:
    """What ngspice prints when it runs a netlist as it is: node to volts."""
    program = shutil.which("ngspice")
    if program is None:
        pytest.fail("ngspice is not installed: the netlist could not be run")
    file = folder / "worst.cir"
    file.write_text(text, encoding="ascii")
    done = subprocess.run(
        [program, "-b", str(file)], capture_output=True, text=True, timeout=60, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "error" not in (done.stdout + done.stderr).lower(), done.stdout + done.stderr
    found = re.findall(r"^mag\(v\((\w+)\)\) = (\S+)$", done.stdout, re.MULTILINE)
    assert len(found) == text.count("\nprint ")
    return {node: float(value) for node, value in found}


def expected_v(model: OutputModel) -> list[float]:
    """The voltage at every coil of an output's worst set, by station and solenoid."""
    found = model.worst_set()
    if found is None:
        return []
    running = [s for s in model.stations if s.number in found.stations]
    return list(model.coil_voltages_v(running, "inrush").values())


def agrees(sheet: Sheet, folder: Path) -> None:
    """Every coil voltage that the simulator prints is the sheet's, in the same order."""
    found = list(simulated(netlist(models(sheet)), folder).values())
    known = [v for model in models(sheet) for v in expected_v(model)]
    assert known
    assert found == pytest.approx(known, rel=AGREES)


@pytest.mark.parametrize("name", sorted(samples()))
def test_a_sample_simulated_agrees_with_its_sheet(name: str, tmp_path: Path) -> None:
    agrees(sample(name), tmp_path)


@pytest.mark.parametrize("name", sorted(samples()))
def test_the_worst_solenoid_of_the_json_document_is_among_what_is_printed(
    name: str, tmp_path: Path
) -> None:
    sheet = sample(name)
    found = simulated(netlist(models(sheet)), tmp_path)
    for output in document(sheet)["outputs"]:
        together = output["together"]
        node = f"coil_{together['solenoid'].lower()}"
        assert found[node] == pytest.approx(together["inrush_voltage_v"], rel=AGREES)


def test_random_sites_simulated_agree_with_their_sheets(tmp_path: Path) -> None:
    """Two outputs of mixed cables, standby and coils in one netlist; one state is new each time."""
    for state in (*FIXED_STATES, SystemRandom().getrandbits(32)):
        try:
            agrees(Sheet(random_site(Random(state), outputs=2)), tmp_path)
        except AssertionError as wrong:
            raise AssertionError(f"random state {state}") from wrong


def lines_of(text: str) -> Iterator[str]:
    """The lines that mean something to the simulator, its title left out."""
    yield from (line for line in text.splitlines()[1:] if not line.startswith("*"))


HOSTILE = (
    "x\n.control\nshell touch owned\n.endc",
    "*ng_script",
    "evil ; quit $ \\",
    "naïve — “Größe” \u202e\u001b[2J",
    "+ Rshort terminals_1 0 1e-9",
)


@pytest.mark.parametrize("words", HOSTILE)
def test_no_text_of_a_site_becomes_a_line(words: str, tmp_path: Path) -> None:
    """Not even text that the loader refuses: names of the site, of cables, of boxes and coils."""
    plain = random_site(Random(4))
    kinds = {f"{name}{words}": kind for name, kind in plain.cable_kind.items()}
    paths = tuple(
        replace(
            path,
            cable=(f"{path.cable[0]}{words}", f"{path.cable[1]}{words}"),
            segment=tuple(
                replace(s, cable=s.cable and (f"{s.cable[0]}{words}", f"{s.cable[1]}{words}"))
                for s in path.segment
            ),
        )
        for path in plain.path
    )
    stations = tuple(
        replace(
            s, label=words,
            solenoid=tuple(replace(c, id=f"{c.id}{words}", label=words) for c in s.solenoid),
        )
        for s in plain.station
    )  # fmt: skip
    hostile = replace(
        plain, site=replace(plain.site, name=words), cable_kind=kinds, path=paths, station=stations
    )
    text = netlist(models(Sheet(hostile)))
    assert text.isascii()
    assert text.splitlines()[0].startswith("Worst set at ")
    shapes = [re.sub(r"(coil_v\d+[ab])\w*", r"\1", line) for line in lines_of(text)]
    assert shapes == list(lines_of(netlist(models(Sheet(plain)))))
    agrees(Sheet(hostile), tmp_path)


def test_ids_that_look_alike_to_a_simulator_stay_apart(tmp_path: Path) -> None:
    """It knows no upper case, and of A.1, A-1 and A_1 only letters and digits are kept."""
    plain = random_site(Random(7), max_boxes=6)
    renamed: dict[str, str] = {}
    for path in plain.path:
        for segment in path.segment:
            renamed[segment.to_box] = "B" + "._-"[len(renamed) % 3] * (1 + len(renamed) // 3)
    alike = replace(
        plain,
        path=tuple(
            replace(
                path,
                segment=tuple(
                    replace(s, from_box=renamed.get(s.from_box, s.from_box),
                            to_box=renamed[s.to_box])
                    for s in path.segment
                ),
            )
            for path in plain.path
        ),
        station=tuple(replace(s, box=renamed[s.box]) for s in plain.station),
    )  # fmt: skip
    agrees(Sheet(alike), tmp_path)


def test_what_an_output_may_lack_or_have_is_simulated_too(tmp_path: Path) -> None:
    """A source without impedance, one that leads, and an output on which nothing may run."""
    plain = random_site(Random(9))
    for ohm in (0.0, 0.5):
        for reactance_ohm in (0.0, -0.3, 0.3):
            source = Output(
                id="1", open_circuit_voltage_v=27.0, rated_current_a=2.0,
                source_resistance_ohm=ohm, source_reactance_ohm=reactance_ohm,
            )  # fmt: skip
            agrees(Sheet(replace(plain, output=(source,))), tmp_path)
    bare = replace(plain.path[0], id="Z", output="9", segment=_renamed(plain))
    unused = replace(plain, output=(*plain.output, replace(plain.output[0], id="9")))
    site = replace(unused, path=(*plain.path, bare))
    assert "Output 9: stations none may run" in netlist(models(Sheet(site)))
    agrees(Sheet(site), tmp_path)


def _renamed(site: Site) -> tuple[Segment, ...]:
    """The first path's segments under other names."""
    return tuple(
        replace(s, from_box=s.from_box if s.from_box == "output" else f"Z{s.from_box}",
                to_box=f"Z{s.to_box}")
        for s in site.path[0].segment
    )  # fmt: skip


def test_the_command_prints_every_output_or_the_one_that_is_named(
    tmp_path: Path, capsys: Text
) -> None:
    one = samples()["two-paths"].read_text("utf-8")
    first, last = one.rsplit('output = "1"', 1)  # its second path
    second = '[[output]]\nid = "2"\nrating = "60 VA"\nregulation = "10 %"\n'
    file = tmp_path / "two.toml"
    file.write_text(f'{first}output = "2"{last}\n{second}', "utf-8")
    found = []
    for options in ([], ["--output", "1"], ["--output", "2"]):
        assert cli.main(["expect", str(file), "--netlist", *options]) == 0
        found.append(simulated(capsys.readouterr().out, tmp_path))
    both, *each = found
    assert all(each)
    assert both == each[0] | each[1]
    assert len(both) == len(each[0]) + len(each[1])


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--netlist", "--output", "7"], "valid: 1"),
        (["--output", "1"], "goes with --netlist"),
        (["--netlist", "--json"], "not allowed with"),
        (["--netlist", "--output", "\u001b[2J"], "valid: 1"),
    ],
)
def test_what_cannot_be_printed_is_refused_in_words(
    capsys: Text, options: list[str], words: str
) -> None:
    assert cli.main(["expect", "two-paths", *options]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert words in err
