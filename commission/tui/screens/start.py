"""The start screen: go on with a job, begin one, practise, review, read how it works, leave."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.screen import Screen
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from commission.host import Disk
from commission.starting import AtHand, at_hand, sample_names, sites_here
from commission.text import visible
from commission.tui.keys import START_KEYS, help_page
from commission.tui.screens.form import FormScreen, Line, LineRefused, MenuScreen, TextScreen
from commission.tui.widgets.key_line import KeyLine
from commission.user.recent import Recent, recent_jobs
from commission.verdict.judge import FAIL, MARGINAL, MARKS

Chosen = tuple[str, ...]  # the words of a command, as on the command line
TITLE = "commission: two-wire decoder systems, step by step"
ABOUT = """
Each answer is on disk once it is kept: stop at any time, and go on from here. \
Within a job, Enter keeps an answer, PgUp goes back a step, Esc opens the menu, Ctrl+Q comes \
back here. The samples are invented.

Mains at the controller: isolate, lock off, prove dead; a licensed person works on the supply. \
Local codes and the authority having jurisdiction decide; limits here are defaults."""
_MAX_RECENT = 3  # the newest; so that all that can be done has a number of one digit
_NAME = 34
ANOTHER = "another"
_PATH = "where it lies, from this folder on, or from / or ~ (your own folder)"


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the start screen: what it is called, and what choosing it does."""

    words: str
    choose: Callable[[StartScreen], None]


class StartScreen(Screen[None]):
    """Ends the program with the words of a command."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "first", "Up to the first line", show=False),
        *(Binding(str(n), f"stand({n})", show=False) for n in range(1, 10)),
    ]

    def __init__(self, said: str = "") -> None:
        super().__init__()
        self._said = said
        self._recent: tuple[Recent, ...] = ()

    def compose(self) -> ComposeResult:
        with VerticalScroll(id="start", can_focus=False):
            yield Static(Content(TITLE), id="dialogue-title")
            if self._said:
                yield Static(Content(self._said), classes="problem said")
            yield OptionList(id="start-list")
            yield Static(Content(ABOUT), classes="hint", id="start-about")
        yield KeyLine(START_KEYS)

    def on_mount(self) -> None:
        """Draw what is known at once; how far the jobs are is read after the first picture."""
        self._recent = recent_jobs()[:_MAX_RECENT]
        menu = self.query_one(OptionList)
        number = 0
        if self._recent:
            menu.add_option(Option(Content.styled("Go on with a job", "bold"), disabled=True))
        for number, one in enumerate(self._recent, start=1):
            words = f"{number}  {visible(one.folder.name)}"
            menu.add_option(Option(Content(words), id=f"job-{number}"))
        menu.add_option(Option(Content.styled("Begin, practise, read", "bold"), disabled=True))
        for place, (key, entry) in enumerate(ENTRIES.items(), start=number + 1):
            menu.add_option(Option(Content(f"{place}  {entry.words}"), id=key))
        menu.highlighted = 1
        menu.focus()
        self.call_after_refresh(self._look, iter(range(1, number + 1)))

    def _look(self, numbers: Iterator[int]) -> None:
        """Say how far one job is, then the next: keys are dealt with in between."""
        number = next(numbers, None)
        if number is None:
            return
        recent = self._recent[number - 1]
        menu = self.query_one(OptionList)
        line = _job_line(number, at_hand(recent.folder, Disk()), f"{recent.opened_at:%Y-%m-%d}")
        menu.replace_option_prompt(f"job-{number}", line)
        self.call_after_refresh(self._look, numbers)

    def action_stand(self, number: int) -> None:
        """Move to a line by its number; Enter chooses it."""
        menu = self.query_one(OptionList)
        ids = [*(f"job-{n}" for n in range(1, len(self._recent) + 1)), *ENTRIES]
        if number <= len(ids):
            menu.highlighted = menu.get_option_index(ids[number - 1])

    def action_first(self) -> None:
        """Escape leaves nothing by accident: it goes to the first line."""
        self.action_stand(1)

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Go on with a job, or do what an entry does."""
        key = event.option.id or ""
        if key in ENTRIES:
            ENTRIES[key].choose(self)
        elif key:
            folder = self._recent[int(key.removeprefix("job-")) - 1].folder
            self.end("open", str(folder))

    def end(self, *words: str) -> None:
        """End the screen with a command to run."""
        self.app.exit(words)


def _job_line(number: int, job: AtHand, opened: str) -> Content:
    """One job: site, kind, how far, what was found, when it was opened last."""
    if job.problem:
        words = f"{number}  {visible(job.folder.name)}\n     cannot be read; choose it to see why"
        return Content(words)
    name = job.site if len(job.site) <= _NAME else f"{job.site[: _NAME - 1]}…"
    far = "signed" if job.signed else f"{job.done} of {job.steps} steps"
    parts: list[str | tuple[str, str]] = [
        f"{number}  ",
        (f"{name:<{_NAME}}", "bold"),
        f"  {far:<17}",
    ]
    for verdict, count in ((FAIL, job.failed), (MARGINAL, job.marginal)):
        if count:
            parts.append((f" {MARKS[verdict]} {count} {verdict} ", f"${verdict} bold"))
    practice = ", practice" if job.practice else ""
    return Content.assemble(*parts, f"\n     {job.kind}{practice}, opened {opened}")


@dataclass(frozen=True, slots=True)
class SiteChooser:
    """A menu of the site files of this folder, and a line to type where another one is."""

    command: str
    title: str
    about: str
    asked: str  # what may be typed
    asked_title: str

    def show(self, screen: StartScreen, more: Sequence[tuple[str, str]] = ()) -> None:
        """Ask, and end with the command for what is chosen; `more` stands below the site files."""
        rows = [(str(path), visible(path.name)) for path in sites_here(Path.cwd())]
        rows += [(ANOTHER, "Another site file: type where it is"), *more]

        def chosen(key: str | None) -> None:
            if key == ANOTHER:
                _ask_path(screen, self.asked_title, self.asked, (self.command,))
            elif key:
                screen.end(self.command, key)

        screen.app.push_screen(MenuScreen(self.title, rows, self.about), chosen)


BEGIN = SiteChooser(
    "open",
    "Begin a job at a site",
    "A site that has an open job goes on with it. Site files in this folder:",
    "Site file, or a job's folder",
    "Begin or go on at a site",
)
EDIT = SiteChooser(
    "edit",
    "Edit a site file",
    "Changed before a job; a job that is begun keeps its own copy. In this folder:",
    "Site file",
    "Edit a site file",
)


def _begin(screen: StartScreen) -> None:
    """Choose a site file: of this folder, by its path, or a sample."""
    BEGIN.show(screen, [(name, f"Sample, invented: {name}") for name in sample_names()])


def _edit(screen: StartScreen) -> None:
    """Choose a site file of this folder, or type where one is."""
    EDIT.show(screen)


def _ask_path(screen: StartScreen, title: str, label: str, words: Chosen) -> None:
    found: list[str] = []

    def keep(values: dict[str, str]) -> None:
        path = Path(values["path"]).expanduser()
        if not path.exists():
            raise LineRefused("path", f"there is no {path}; begin with / or ~ if it is elsewhere")
        found.append(str(path.absolute()))

    line = Line("path", label, hint=_PATH, needed="type the path of the file")
    form = FormScreen(title, [line], keep, keep_words="Open")
    screen.app.push_screen(form, lambda kept: screen.end(*words, found[-1]) if kept else None)


def _new_site(screen: StartScreen) -> None:
    """Ask for the name of the file, and a list that there may be; else a form asks for the rest."""
    words: list[str] = []

    def keep(values: dict[str, str]) -> None:
        path, source = (Path(values[key]).expanduser() for key in ("path", "source"))
        if path.exists() and not path.is_file():
            raise LineRefused("path", f"{path} is no file; name another")
        words[:] = ["new", str(path.absolute())]
        if values["source"]:
            if not source.is_file():
                raise LineRefused("source", f"there is no file {source}")
            words.extend(("--from", str(source.absolute())))

    lines = [
        Line("path", "Site file to write", "site.toml", needed="name the file"),
        Line("source", "From a list of stations (CSV), or a report", hint="empty: a form asks"),
    ]
    form = FormScreen("Draw up a new site", lines, keep, keep_words="Go on")
    screen.app.push_screen(form, lambda kept: screen.end(*words) if kept else None)


def _practise(screen: StartScreen) -> None:
    screen.end("practice")


def _review(screen: StartScreen) -> None:
    _ask_path(screen, "Review a report", "Report, or a folder of reports", ("review",))


def _help(screen: StartScreen) -> None:
    screen.app.push_screen(TextScreen("Keys and help", Content(help_page())))


def _leave(screen: StartScreen) -> None:
    screen.app.exit()


# All that can be done from the start, in the order shown: a new way in is one line more.
ENTRIES = {
    "begin": Entry("Begin a job at a site", _begin),
    "new": Entry("Draw up the site file of a new site", _new_site),
    "edit": Entry("Edit a site file, and see what each change does", _edit),
    "practise": Entry("Practise on an invented site with a hidden fault", _practise),
    "review": Entry("Review a report", _review),
    "help": Entry("Keys and help", _help),
    "leave": Entry("Quit", _leave),
}
