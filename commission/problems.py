"""What can go wrong, as values and as exceptions.

Everything that a person can mend in a file is a `Problem`: collected, sorted, all shown at once.
What stops a command is one of these exceptions, each with its exit code:

    CommissionError
    ├── InputRefused      2   files or words that cannot be used; carries the problems
    ├── StepRefused       2   the walk does not allow this now; carries the reasons
    ├── HeldByAnother     3   another program works on this job
    ├── CouldNotWrite     4   the disk did not take it; nothing confirmed was lost
    └── Ended        128 + n  the signal n ended a program that was to come back with something
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from commission.text import visible

EXIT_DONE = 0
EXIT_FINDINGS = 1
EXIT_REFUSED = 2
EXIT_HELD = 3
EXIT_NOT_WRITTEN = 4


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong in one place of one file, and what to do about it."""

    file: str
    message: str
    key: str = ""
    line: int | None = None
    remedy: str = ""

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}" if self.line else self.file
        key = f" {self.key}:" if self.key else ""
        remedy = f" - {self.remedy}" if self.remedy else ""
        return f"{place}:{key} {self.message}{remedy}"


class CommissionError(Exception):
    """The root of everything that stops a command with words instead of a traceback."""

    exit_code = EXIT_REFUSED


class InputRefused(CommissionError):
    """A file, a command or an answer that cannot be used as it stands."""

    def __init__(self, problems: Iterable[Problem] | str) -> None:
        if isinstance(problems, str):
            self.problems: tuple[Problem, ...] = ()
            super().__init__(problems)
            return
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


class StepRefused(CommissionError):
    """The walk refuses an answer for now; `reasons` says what has to come first."""

    def __init__(self, reasons: Iterable[str]) -> None:
        self.reasons = tuple(reasons)
        super().__init__("\n".join(self.reasons))


class HeldByAnother(CommissionError):
    """Another program holds the job; says who and since when."""

    exit_code = EXIT_HELD


class CouldNotWrite(CommissionError):
    """The disk refused: full, read-only, gone. What was confirmed before is safe."""

    exit_code = EXIT_NOT_WRITTEN


class Ended(CommissionError):
    """A signal ended a program before there was what it was to come back with."""

    def __init__(self, words: str, exit_code: int) -> None:
        super().__init__(words)
        self.exit_code = exit_code


def nearest(word: str, known: Iterable[str]) -> str:
    """Return a remedy naming the nearest known word, or the known words when none is near."""
    import difflib  # only needed when something is wrong

    options = sorted(set(known))
    close = difflib.get_close_matches(word, options, n=1, cutoff=0.6)
    if close:
        return f"nearest valid: {visible(close[0], 60)}"
    if not options:
        return "none is defined"
    shown = ", ".join(visible(option, 60) for option in options[:12]) + (
        ", ..." if len(options) > 12 else ""
    )
    return f"valid: {shown}"
