"""The worst sets met while segments are enlarged: quickly asked again with other cable."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from commission.electrical.network import Coil, CollapseError, Network, Solution, solve
from commission.electrical.response import of_voltage
from commission.expected.model import OutputModel
from commission.expected.segment_choices import Choice, Rungs


@dataclass(frozen=True, slots=True)
class Running:
    """The coils of one set in inrush, and what each needs at least [V]."""

    coils: tuple[Coil, ...]
    minima_v: tuple[float, ...]

    def ratios(self, solution: Solution) -> list[float]:
        """Voltage over minimum of every coil."""
        return [abs(v) / low for v, low in zip(solution.coil_v, self.minima_v, strict=True)]


class SetsSeen:
    """Sets that failed on an output with some choice of cable; most choices fail by them too."""

    def __init__(self, model: OutputModel, choices: Sequence[Choice]) -> None:
        self._model = model
        self._choices = choices
        self._sets: list[Running] = []

    def add(self, numbers: Sequence[int]) -> None:
        """Remember a set by its station numbers, those that always run included."""
        kinds = self._model.drawing.site.solenoid_kind
        running = [station for station in self._model.stations if station.number in numbers]
        coils = (coil for one in running for coil in self._model.coils(one, "inrush"))
        minima = (kinds[coil.kind].min_voltage_v for one in running for coil in one.solenoid)
        self._sets.append(Running(tuple(coils), tuple(minima)))

    def lowest_ratio(self, rungs: Rungs) -> float:
        """The lowest ratio of the sets remembered, or the first below 1; infinite without any."""
        net = self._network(rungs)
        lowest = float("inf")
        for running in self._sets:
            try:
                solution = solve(net, running.coils)
                if any(volts.real <= 0 for volts in solution.node_v):
                    return 0.0  # standby alone turns the voltage over
                lowest = min(lowest, *running.ratios(solution))
            except CollapseError:
                return 0.0
            if lowest < 1:
                break
        return lowest

    def gains(self, rungs: Rungs) -> list[float]:
        """Of every choice, what its next rung gives the worst solenoid, as far as that lacks it.

        Volts, to first order; 0 where there is no next rung. A branch that carries I loses ΔZ·I; by
        reciprocity (see `electrical.response`) that moves the solenoid by ΔZ·I·J, with J what the
        branch carries while one ampere is drawn at the solenoid's box and nothing drives.
        """
        net = self._network(rungs)
        try:
            solved = [(one, solve(net, one.coils)) for one in self._sets]
        except CollapseError:
            return [0.0] * len(rungs)
        running, solution = min(solved, key=lambda one: min(one[0].ratios(one[1])))
        ratios = running.ratios(solution)
        worst = ratios.index(min(ratios))
        coil, voltage = running.coils[worst], solution.coil_v[worst]
        flow = of_voltage(solution, coil.node).branch_a
        turn = voltage.conjugate() / abs(voltage) * (coil.z_ohm / coil.total_z_ohm)
        missing_v = max(1 - ratios[worst], 1e-9) * running.minima_v[worst]
        found = []
        for choice, rung in zip(self._choices, rungs, strict=True):
            after = choice.rungs[min(rung + 1, len(choice.rungs) - 1)]
            less_ohm = choice.rungs[rung].z_ohm - after.z_ohm
            gain_v = (less_ohm * solution.branch_a[choice.node] * flow[choice.node] * turn).real
            found.append(min(gain_v, missing_v))
        return found

    def _network(self, rungs: Rungs) -> Network:
        """The output with other cable."""
        net = self._model.network
        z_ohm = list(net.z_ohm)
        for choice, rung in zip(self._choices, rungs, strict=True):
            z_ohm[choice.node] = choice.rungs[rung].z_ohm
        return replace(net, z_ohm=tuple(z_ohm))
