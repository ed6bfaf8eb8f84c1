"""How well faults explain what was read and seen: a logarithmic likelihood.

Readings are normal around what the faults predict, with shared causes (`spread.Spread`); their
rectangular errors are taken as normal ones of the same variance, which is cautious. What people see
are yes or no, with stated probabilities that they, or a valve, slip.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from commission.electrical.update import chi_square_quantile
from commission.locate.calls import Calls
from commission.locate.covariance import Covariance
from commission.locate.facts import Facts
from commission.locate.faults import ACROSS, Fault
from commission.locate.readings import DEAD_KINDS, Reading
from commission.locate.scene import Scene, value
from commission.locate.situation import CoilState, Situation
from commission.locate.spread import Spread

LOG_IMPOSSIBLE = -25.0
"""For a reading over range where a value is predicted, or the other way round."""
_CREDIBLE = 0.999  # readings that are farther off than this part of all are not explained
_UNLIKELY = -4.5  # logarithm of the probability of what one call, or the output, did


@dataclass(frozen=True, slots=True)
class Account:
    """What faults make of all readings: residuals, the states of the coils, the rest as a log."""

    residual: list[float]
    states: list[CoilState]
    log_seen: float
    log_on: float  # the part of it that tells of the output giving up
    log_of_call: Mapping[str, float]
    possible: bool  # no reading over range where a value is predicted, or the other way round


class Evidence:
    """All readings so far, put to one fault after the other. Pure."""

    def __init__(self, scene: Scene, readings: Iterable[Reading]) -> None:
        self.scene, self.facts = scene, Facts(scene, readings)
        self._calls = Calls(self.facts)
        self._covariance = Covariance(self.facts)
        self.signs = self._calls.signs

    @cached_property
    def dead(self) -> Evidence:
        """The resistances alone."""
        return Evidence(self.scene, [r for r in self.facts.measured if r.test.kind in DEAD_KINDS])

    @property
    def spread(self) -> Spread:
        """The covariance as the sound output has it, sized by what was read."""
        return self._covariance.sound

    def spread_for(self, faults: Sequence[Fault], account: Account) -> Spread:
        """The covariance while faults are there: shorts and opens ask for their own."""
        own = any(fault.kind in ACROSS or fault.kind == "open" for fault in faults)
        return self._covariance.of(faults, account.states) if own else self.spread

    def log_likelihood(self, faults: Sequence[Fault], spread: Spread | None = None) -> float:
        """Logarithm of the likelihood of faults, with the covariance given or the sound one."""
        account = self.account(faults)
        return (spread or self.spread).log_density(account.residual) + account.log_seen

    def account(self, faults: Sequence[Fault]) -> Account:
        """What faults predict beside what was read."""
        situation = self.scene.situation(faults)
        log_on, off = self._calls.log_on(situation)
        log_of_call, state_of = self._calls.log_calls(situation, self.facts.calls, off)
        log_seen = log_on + sum(log_of_call.values())
        residual, states, possible = [], [], True
        for reading in self.facts.measured:
            state = state_of.get(reading.test.station, "holding")
            states.append(state)
            difference, log_range = self._difference(situation, reading, state, off)
            residual.append(difference)
            log_seen += log_range
            possible = possible and log_range > LOG_IMPOSSIBLE
        return Account(residual, states, log_seen, log_on, log_of_call, possible)

    def account_beside(self, known: Account, faults: Sequence[Fault], called: set[str]) -> Account:
        """The account of faults that differ from a known one only when some stations are called."""
        situation = self.scene.situation(faults)
        log_on, off = self._calls.log_on(situation)
        calls = called & self.facts.calls
        log_of_call, state_of = self._calls.log_calls(situation, calls, off)
        log_seen = known.log_seen + log_on - known.log_on
        log_seen += sum(log - known.log_of_call[station] for station, log in log_of_call.items())
        residual, states = list(known.residual), list(known.states)
        for i in (i for station in calls for i in self.facts.places.get(station, ())):
            state = states[i] = state_of[self.facts.measured[i].test.station]
            residual[i], _ = self._difference(situation, self.facts.measured[i], state, off)
        return Account(residual, states, log_seen, log_on, known.log_of_call, known.possible)

    def _difference(
        self, situation: Situation, reading: Reading, state: CoilState, off: bool
    ) -> tuple[float, float]:
        if reading.test.kind not in DEAD_KINDS and (
            off or reading.test.station in self.facts.tripped
        ):
            return 0.0, 0.0
        if reading.test.kind == "earth" and situation.leak(reading.test.path) is None:
            return 0.0, self._log_floating(reading)
        predicted = value(situation, reading.test, state)
        known, expected = math.isfinite(reading.value), math.isfinite(predicted)
        if known and expected:
            ohms_tell = reading.test.kind != "insulation"  # there only on which side the leak is
            return (reading.value - predicted if ohms_tell else 0.0), 0.0
        return 0.0, (0.0 if known == expected else LOG_IMPOSSIBLE)

    def _log_floating(self, reading: Reading) -> float:
        """Of a path without a leak any voltage to earth is as likely as any other.

        So its density, one over all volts, stands in place of that of a residual of nothing.
        """
        std = math.sqrt(self.scene.noise(reading.test, reading.value)[0])
        whole_v = abs(self.scene.plant.network.source_v)
        return math.log(std * math.sqrt(2 * math.pi) / whole_v)

    def explains(self, faults: Sequence[Fault]) -> bool:
        """Whether faults leave residuals that are credible together (χ²), and nothing unlikely."""
        account = self.account(faults)
        chi_square = self.spread_for(faults, account).chi_square(account.residual)
        credible = chi_square <= chi_square_quantile(len(self.facts.measured), _CREDIBLE)
        least_likely = min(account.log_on, *account.log_of_call.values(), 0.0)
        return credible and account.possible and least_likely > _UNLIKELY
