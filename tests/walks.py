"""Walks through a job without a screen: the same calls that a screen makes."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date, datetime, timedelta, timezone
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from commission.checklist.plan import Step
from commission.crew import Hands
from commission.expected.values import Expectation
from commission.host import Disk
from commission.job import Status
from commission.opening import open_job
from commission.report.signoff import SignOff
from commission.resources import samples
from commission.session import Session
from commission.units import SI_UNIT, Quantity, in_unit
from commission.user.instruments import Instrument, Range
from commission.user.signing_key import SigningKey

START = datetime(2031, 5, 4, 8, 0, tzinfo=timezone(timedelta(hours=-6)))
METER = Instrument(
    id="meter",
    make="invented meter",
    serial="A-17",
    calibration_due=date(2032, 1, 31),
    true_rms=True,
    accuracy=(
        Range("resistance", "400 ohm", 0.5, 2, "0.01 ohm"),
        Range("resistance", "10 Gohm", 1.0, 2, "1 kohm"),
        Range("voltage", "1000 V", 0.5, 2, "0.01 V"),
        Range("current", "10 A", 1.0, 2, "0.1 mA"),
    ),
)
OLD_METER = Instrument(
    id="old-meter",
    make="invented old meter",
    serial="B-2",
    calibration_due=date(2030, 1, 31),
    accuracy=METER.accuracy,
)
OBSERVER, WRITER = "Pat Example", "Sam Sample"  # invented


def clock() -> Callable[[], datetime]:
    """A clock that goes on by ten seconds at every look."""
    moments: Iterator[datetime] = (START + timedelta(seconds=10 * n) for n in range(100_000))
    return lambda: next(moments)


def begin(folder: Path, sample: str, *, kind: str = "new") -> Session:
    """A new job on a copy of a sample in a folder."""
    site = folder / f"{sample}.toml"
    site.write_bytes(samples()[sample].read_bytes())
    session = open_job(site, kind=kind, disk=Disk(), now=clock())
    session.crew.take(Hands(observed_by=OBSERVER, entered_by=WRITER, instrument=METER))
    return session


def good_reading(expectation: Expectation | None) -> float:
    """A reading in SI that is as expected, or keeps its limit clearly."""
    if expectation is None:
        return 1.0
    if expectation.sides == "maximum":
        return expectation.value / 2
    if expectation.sides == "minimum":
        return expectation.value * (1.2 if expectation.quantity == "voltage" else 4)
    return expectation.value


def typed(value_si: float, step: Step) -> str:
    """A value as somebody types it, in the unit of the step."""
    quantity: Quantity = step.item.quantity or "number"
    unit = step.item.unit or SI_UNIT[quantity]
    return f"{in_unit(value_si, unit, quantity):.4f} {unit}".strip()


def good_answer(session: Session, step: Step) -> str:
    """What somebody types who finds everything in order."""
    item = step.item
    if item.compare == "fall-of-potential":  # as the reading at 62 %
        earth = session.job.sheet.expectation("earth-resistance", step.target)
        return typed(good_reading(earth), step)
    if item.compare == "air-temperature":
        return "21 °C"
    if item.answer == "measure":
        return typed(good_reading(session.job.expectation(step)), step)
    if item.answer == "text":
        return f"noted {step.id.rsplit('/', 1)[-1]}"
    return next((c.say for c in item.choice if c.verdict == "pass"), None) or (
        item.choice[0].say if item.choice else "yes"
    )


def bad_answer(step: Step) -> str:
    """What somebody picks who finds that it does not work."""
    return next((c.say for c in step.item.choice if c.verdict == "fail"), "no")


def answer(session: Session, step: Step, text: str) -> None:
    """Answer a step, meaning it."""
    photo = "photo 12" if step.item.hidden_later else ""
    session.answer(step, text, photo=photo, confirmed=True)


def walk_to_the_end(session: Session) -> None:
    """Answer every open step well, in walking order; an answer may open more steps."""
    while (step := first_open(session)) is not None:
        answer(session, step, good_answer(session, step))


def walk_until(session: Session, goal: Step) -> None:
    """Answer every open step before one, in walking order."""
    while (step := first_open(session)) is not None and step.id != goal.id:
        answer(session, step, good_answer(session, step))


def first_open(session: Session) -> Step | None:
    """The first open step in walking order."""
    return next((s.step for s in session.job.statuses.values() if s.state == "open"), None)


def first(session: Session, wanted: Callable[[Step], bool]) -> Step:
    """The first step of a job that is as wanted, whether it applies yet or not."""
    return next(step for step in session.job.plan.steps if wanted(step))


def status(session: Session, step: Step) -> Status:
    """Where a step stands now."""
    return session.job.statuses[step.id]


# The same key in every test, so that reports are the same bytes.
KEY = SigningKey(Ed25519PrivateKey.from_private_bytes(bytes(range(32))))


def signoff() -> SignOff:
    """An invented installer's sign-off."""
    return SignOff(
        role="installer",
        name=WRITER,
        company="Example Irrigation (invented)",
        licence="IR-0001",
        statement="Found as recorded.",
        at=START + timedelta(hours=9),
    )
