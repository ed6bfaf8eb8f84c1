"""Every station of an output running alone, by superposition on one solved network."""

from __future__ import annotations

from dataclasses import dataclass

from commission.electrical.network import Coil, Network, freeze_power
from commission.electrical.solenoids import State
from commission.electrical.transfer import Transfer
from commission.expected.model import OutputModel
from commission.site.schema import Station


@dataclass(frozen=True, slots=True)
class Alone:
    """A station running, with what always runs: r.m.s. volts at box and coils, and amperes."""

    box_v: float
    coils_v: dict[str, float]  # by solenoid
    path_current_a: float
    source_current_a: float

    @property
    def lowest_v(self) -> float:
        """The lowest voltage among its own coils."""
        return min(self.coils_v.values())


def each_alone(model: OutputModel, state: State) -> dict[str, Alone]:
    """Station id to what its running alone gives, O(stations + boxes) together.

    With constant-power standby every station is solved for by itself.
    """
    if any(model.network.standby_w):
        return {
            s.id: _alone(model, Transfer(_frozen(model, s, state)), s, state)
            for s in model.stations
        }
    transfer = Transfer(model.network)
    return {s.id: _alone(model, transfer, s, state) for s in model.stations}


def _frozen(model: OutputModel, station: Station, state: State) -> Network:
    return freeze_power(model.network, _coils(model, station, state))


def _coils(model: OutputModel, station: Station, state: State) -> list[Coil]:
    """What always runs in front, the station's own coils last."""
    always = [one for one in model.always if one.id != station.id]
    return [coil for one in (*always, station) for coil in model.coils(one, state)]


def _alone(model: OutputModel, transfer: Transfer, station: Station, state: State) -> Alone:
    coils = _coils(model, station, state)
    drawn = list(zip(coils, transfer.coil_currents_a(coils), strict=True))
    own = zip(station.solenoid, drawn[-len(station.solenoid) :], strict=True)

    def node_v(node: int) -> complex:
        lost_v = (transfer.between_ohm(node, coil.node) * a for coil, a in drawn)
        return transfer.open_v[node] - sum(lost_v)

    net, terminals_v = transfer.network, node_v(0)
    paths_a = {
        path: sum(
            ((terminals_v - node_v(first)) / net.z_ohm[first] for first in model.first_nodes(path)),
            0j,
        )
        for path in model.paths
    }
    at_terminals_a = net.standby_s[0] * terminals_v + net.standby_a[0]
    at_terminals_a += sum(a for coil, a in drawn if coil.node == 0)
    return Alone(
        box_v=abs(node_v(model.nodes[station.path, station.box])),
        coils_v={one.id: abs(coil.z_ohm * a) for one, (coil, a) in own},
        path_current_a=abs(paths_a[station.path]),
        source_current_a=abs(sum(paths_a.values(), at_terminals_a)),
    )
