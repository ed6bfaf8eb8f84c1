"""The site of a practice: a random tree of boxes, kinds of our own, all of it invented."""

from __future__ import annotations

import random

_STRAIGHT = 0.75  # how often a box goes on from the one before

_TOP = """\
# INVENTED for practice. No such place exists; the data belong to no maker's product.
kind = "commission site"
format = 1

[site]
name = "Practice ground {number}"
invented = true
units = "SI"
frequency = "60 Hz"

[soil]
test_day = "15 °C"
test_day_uncertainty = "4 K"

[controller]
description = "Invented two-wire controller, one output"

[supply]
nominal_voltage = "120 V"

[[output]]
id = "1"
rated_voltage = "24 V"
rating = "60 VA"
regulation = "15 %"
fuse = "4 A"
stations_at_once = 1

[earth]
conductor = "6 AWG"

[solenoid_kind.practice-coil]
inrush_current = "0.40 A"
holding_current = "0.20 A"
coil_resistance = "30 ohm"

[decoder_kind.practice-decoder]
standby_current = "3.5 mA"

[cable_kind.practice-cable]
conductor = "14 AWG"

[[path]]
id = "A"
output = "1"
cable = "practice-cable"
length_by = "wheel"
segment = [
"""
_STATION = """
[[station]]
id = "S{n}"
number = {n}
address = {n}
path = "A"
box = "B{n}"
decoder = "practice-decoder"
solenoid = [{{ id = "V{n}", kind = "practice-coil" }}]
"""


def site_text(rng: random.Random, boxes: int, number: int) -> str:
    """A site file with one path of so many boxes, a station in each."""
    rows = []
    for box in range(1, boxes + 1):
        straight = box < 3 or rng.random() < _STRAIGHT
        above = box - 1 if straight else rng.randrange(1, box)
        source = f"B{above}" if above else "output"
        length_m = rng.randrange(12, 60)
        rows.append(f'    {{ from = "{source}", to = "B{box}", length = "{length_m} m" }},\n')
    stations = "".join(_STATION.format(n=box) for box in range(1, boxes + 1))
    return _TOP.format(number=number) + "".join(rows) + "]\n" + stations
