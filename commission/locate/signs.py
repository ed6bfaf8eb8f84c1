"""How likely it is that a decoder acts, a coil pulls in, an output gives up, and people see it."""

from __future__ import annotations

from commission.electrical.distributions import normal_cdf
from commission.locate.scene import Scene
from commission.locate.situation import CoilState, Situation


class Signs:
    """Probabilities of what can be seen, from the voltages and currents of a situation."""

    def __init__(self, scene: Scene) -> None:
        self.priors, self.plant = scene.priors, scene.plant

    def trip(self, current_a: float) -> float:
        """Probability that the output does not stay on at a current."""
        ratio = current_a / self.plant.trip_a
        return normal_cdf((ratio - 1) / self.priors.trip_spread)

    def indicator(self, situation: Situation, station: str) -> float:
        """Probability that a station's own indicator answers to its number."""
        slip = self.priors.false_indicator
        if station not in situation.answering(station):
            return slip
        return slip + (1 - 2 * slip) * self.acts(situation, station)

    def acts(self, situation: Situation, station: str) -> float:
        """Probability that a decoder has enough voltage to do anything."""
        at_box_v = situation.idle_v(self.plant.coils[station].node)
        return normal_cdf((at_box_v - self.priors.decoder_min_v) / self.priors.decoder_spread_v)

    def water(self, situation: Situation, name: str, called: str) -> float:
        """Probability that a station's valve is said to give water while one is called."""
        if name not in situation.answering(called):
            return self.priors.false_water
        acts = self.acts(situation, name)
        pulls = self.pulls(situation, name, called)
        return (
            self.priors.false_water
            + (1 - self.priors.no_water - self.priors.false_water) * acts * pulls
        )

    def pulls(self, situation: Situation, name: str, called: str) -> float:
        """Probability that a switched coil pulls in: its voltage against where coils pull in."""
        min_v = self.plant.coils[name].min_v
        over = situation.pull_in_v(name, called) / min_v - self.priors.pull_in_over_min
        return normal_cdf(over / self.priors.pull_in_spread)

    def likely_state(self, situation: Situation, station: str) -> CoilState:
        """The state of the coils of a call that nobody watched."""
        if station not in situation.answering(station):
            return "holding"
        if self.acts(situation, station) < 0.5:
            return "off"
        pulls = self.pulls(situation, station, station) >= 0.5
        return "holding" if pulls else "inrush"
