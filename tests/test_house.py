"""The shape of the house: what lies where, who may import whom, how large things may be."""

from __future__ import annotations

import ast
import fnmatch
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "commission"
MODULES = sorted(PACKAGE.rglob("*.py"))

TOP_LEVEL = {
    ".ci",
    ".git",
    ".gitignore",
    "DEVELOPERS.md",
    "README.md",
    "checklists",
    "commission",
    "pyproject.toml",
    "sample_sites",
    "tests",
}

# From the ground up; a module may import from its own floor and from floors below.
FLOORS = (
    ("electrical",),  # the laws: numbers in, numbers out
    (
        "problems",
        "text",
        "units",
        "shapes",
        "toml_lines",
        "toml_place",
        "spreadsheet",
        "host",
        "new_file",
    ),  # what everybody uses
    ("user", "resources"),  # what is remembered, what comes along
    ("site",),
    ("expected",),
    ("checklist",),
    ("schemas",),
    ("record",),
    ("locate", "bundle"),  # what is wrong, and which test to make next; which conductors are sound
    ("verdict",),
    ("job", "verdict.progress", "works", "repairs"),  # one frozen job, and what stands against it
    (
        "report",
        "judging",
        "printing",
        "sampling",
        "picture",
        "profile",
        "search",
        "survey",
        "redrawn",
        "additions",
    ),
    ("practice",),  # but for its beginning, which opens a job
    ("asked", "following", "field_list", "authoring"),
    ("editing",),
    ("crew", "answering", "field_entry", "session", "offered"),
    ("opening",),
    ("practice.begin", "starting", "reviewing"),
    ("papers",),
    ("tui",),
    ("tablet",),  # the same program in a browser
    ("commands",),
    ("cli",),
    ("__main__",),
)
FLOOR_OF = {name: number for number, names in enumerate(FLOORS) for name in names}

MAX_FILE_LINES = 400
MAX_FUNCTION_LINES = 60

# Slow to import, and not needed before somebody asks for it.
LATE = {"pint", "uncertainties", "cryptography", "numpy", "GTC", "hypothesis"}


def module_name(path: Path) -> str:
    """The name below the package: "tui.app" for commission/tui/app.py, "" for the package."""
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def floor_of(module: str) -> int:
    """The floor of a module, by the longest name that the list of floors has of it."""
    parts = module.split(".")
    for length in range(len(parts), 0, -1):
        name = ".".join(parts[:length])
        if name in FLOOR_OF:
            return FLOOR_OF[name]
    raise AssertionError(f"commission.{module} stands on no floor: add it to the list")


def imports(path: Path) -> Iterator[str]:
    """Every module that a file imports, wherever in it, for types only or not."""
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: imports are written in full"
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def ours(path: Path) -> Iterator[str]:
    """The modules of ours that a file imports, without the version of the package."""
    for name in imports(path):
        package, _, rest = name.partition(".")
        if package == "commission" and rest != "__version__":
            yield rest


def loaded_after(*modules: str) -> set[str]:
    """Packages, and packages of ours, loaded in a fresh Python after importing modules."""
    names = ", ".join(f"commission.{module}" for module in modules)
    program = f"import sys, {names}; print(*sys.modules)"
    run = subprocess.run(
        [sys.executable, "-B", "-c", program], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert run.returncode == 0, run.stderr
    loaded = run.stdout.split()
    return {name.partition(".")[0] for name in loaded} | {
        ".".join(name.split(".")[:2]) for name in loaded if name.startswith("commission.")
    }


def test_nothing_unexpected_at_the_top() -> None:
    ignored = [line.strip("/") for line in (ROOT / ".gitignore").read_text().splitlines()]
    found = {path.name for path in ROOT.iterdir()}
    kept = {name for name in found if not any(fnmatch.fnmatch(name, one) for one in ignored)}
    assert kept <= TOP_LEVEL
    assert {"README.md", "commission", "checklists", "sample_sites", "tests"} <= kept


def test_the_package_holds_python_stylesheets_schemas_and_one_page_only() -> None:
    kinds = {path.suffix for path in PACKAGE.rglob("*") if path.is_file() and is_source(path)}
    assert kinds <= {".py", ".tcss", ".json", ".html", ".js"}
    assert {path.parent.name for path in PACKAGE.rglob("*.json")} <= {"schemas"}
    pages = [*PACKAGE.rglob("*.html"), *PACKAGE.rglob("*.js")]
    assert {path.parent.name for path in pages} <= {"tablet"}


def is_source(path: Path) -> bool:
    """Whether a file is ours and not made by Python."""
    return "__pycache__" not in path.parts


@pytest.mark.parametrize("path", MODULES, ids=module_name)
def test_imports_go_down_only(path: Path) -> None:
    module = module_name(path)
    if not module:
        assert not list(ours(path))
        return
    own = floor_of(module)
    above = {name for name in ours(path) if floor_of(name) > own}
    assert not above, f"commission.{module} imports from floors above it"


def test_the_laws_import_nothing_of_ours() -> None:
    laws = [path for path in MODULES if module_name(path).startswith("electrical.")]
    assert laws
    for path in laws:
        assert all(name.startswith("electrical.") for name in ours(path)), path


def test_only_screens_know_the_screen_toolkit() -> None:
    knowing = {
        module_name(path)
        for path in MODULES
        for name in imports(path)
        if name.partition(".")[0] in ("textual", "rich")
    }
    assert knowing
    assert {name for name in knowing if not name.startswith("tui.")} == set()


def test_screens_write_no_files() -> None:
    for path in MODULES:
        if not module_name(path).startswith("tui."):
            continue
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            called = node.func if isinstance(node, ast.Call) else None
            name = getattr(called, "id", getattr(called, "attr", ""))
            assert name not in ("open", "write_text", "write_bytes", "write_atomically"), path


def test_headless_modules_load_neither_screens_nor_what_is_slow() -> None:
    below = [
        module_name(path)
        for path in MODULES
        if module_name(path) and not module_name(path).startswith(("tui", "__main__"))
    ]
    assert "cli" in below
    assert loaded_after(*below) & (LATE | {"textual", "rich", "commission.tui"}) == set()


def test_the_screen_loads_nothing_that_is_slow() -> None:
    loaded = loaded_after("cli", "commands.open", "opening", "tui.app")
    assert "textual" in loaded
    assert loaded & LATE == set()


@pytest.mark.parametrize("path", MODULES, ids=module_name)
def test_files_and_functions_of_a_size_to_read(path: Path) -> None:
    text = path.read_text("utf-8")
    assert len(text.splitlines()) <= MAX_FILE_LINES
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            lines = (node.end_lineno or node.lineno) - node.lineno + 1
            assert lines <= MAX_FUNCTION_LINES, f"{node.name} has {lines} lines"


@pytest.mark.parametrize("path", MODULES, ids=module_name)
def test_every_module_begins_with_words(path: Path) -> None:
    tree = ast.parse(path.read_text("utf-8"))
    assert ast.get_docstring(tree)
    if path.name != "__init__.py":
        assert "from __future__ import annotations" in path.read_text("utf-8")


@pytest.mark.parametrize(
    ("folder", "kind"),
    [("checklists", "commission checklist"), ("sample_sites", "commission site")],
)
def test_every_file_that_comes_along_says_what_it_is(folder: str, kind: str) -> None:
    files = sorted((ROOT / folder).iterdir())
    assert files
    for path in files:
        assert path.suffix == ".toml", path
        table = tomllib.loads(path.read_text("utf-8"))
        assert list(table)[:2] == ["kind", "format"], path
        assert table["kind"] == kind
        assert isinstance(table["format"], int)


def test_samples_say_that_they_are_invented() -> None:
    files = sorted((ROOT / "sample_sites").glob("*.toml"))
    assert files
    for path in files:
        assert tomllib.loads(path.read_text("utf-8"))["site"]["invented"] is True, path


WORDS_NOT_LEFT_BEHIND = ("TODO", "FIXME", "XXX", "NotImplementedError")


@pytest.mark.parametrize("word", WORDS_NOT_LEFT_BEHIND)
def test_nothing_is_left_for_later(word: str) -> None:
    sources = [*MODULES, *(ROOT / "tests").rglob("*.py"), *ROOT.glob("*.md")]
    left = [path for path in sources if path != Path(__file__) and word in path.read_text("utf-8")]
    assert left == []
