"""Where each law and each default comes from: one registry, quoted by every expectation.

A key is what the code and the report write; its text says which document, and where in it.  Two
keys are no documents: `PRACTICE` marks what the trade holds to be true without a published source,
and `JUDGEMENT` a default that somebody had to choose.
"""

from __future__ import annotations

from typing import Final

FORMULA_SET: Final = 1
"""Number of this set of formulas; it rises whenever the same input would give another result."""

COPPER = "IEC 60028"
WIRE_GAUGE = "ASTM B258"
LAY = "ASTM B8"
METRIC_SIZES = "IEC 60228"
WIRE_TABLES = "NBS Handbook 100"
NEC_RESISTANCE = "NEC chapter 9 table 8"
NEC_REACTANCE = "NEC chapter 9 table 9"
DATA_SHEET = "data sheet"
CIRCUIT_LAWS = "Kirchhoff and Thevenin"
EARTH_PRACTICE = "IEEE Std 142"
EARTH_TESTING = "IEEE Std 81"
DWIGHT = "Dwight 1936"
WENNER = "Wenner 1915"
INSULATION = "IEC 60364-6"
UNCERTAINTY = "JCGM 100"
MONTE_CARLO = "JCGM 101"
CONFORMITY = "JCGM 106"
INVERSION = "Gil-Pelaez 1951"
NEC_ELECTRODE = "NEC 250.53"
BRIDGE_METHODS = "Murray and Varley loop tests"
KALMAN = "Kalman 1960"
GENZ = "Genz 1992"
PRACTICE = "common practice, no source"
JUDGEMENT = "judgement"

SOURCES: Final[dict[str, str]] = {
    COPPER: (
        "IEC 60028: annealed copper, resistivity 1/58 ohm mm²/m at 20 °C, temperature"
        " coefficient 0.00393 per kelvin at 20 °C"
    ),
    WIRE_GAUGE: (
        "ASTM B258: American wire gauge, diameter 0.127 mm times 92 to the power (36 - n)/39,"
        " within 1 %"
    ),
    LAY: "ASTM B8: concentric-lay stranded copper, resistance 2 % above solid for the lay",
    METRIC_SIZES: (
        "IEC 60228: conductors of insulated cables, class 1 and 2, plain copper, maximum"
        " resistance at 20 °C"
    ),
    WIRE_TABLES: "NBS Handbook 100: copper wire tables, resistance at 20 °C",
    NEC_RESISTANCE: "NFPA 70 (NEC) chapter 9 table 8: conductor properties at 75 °C",
    NEC_REACTANCE: (
        "NFPA 70 (NEC) chapter 9 table 9: reactance per conductor at 60 Hz in PVC conduit,"
        " scaled with frequency"
    ),
    DATA_SHEET: "the maker's data sheet, as entered in the site file",
    CIRCUIT_LAWS: "Kirchhoff's laws and Thevenin's theorem for linear alternating-current circuits",
    EARTH_PRACTICE: (
        "IEEE Std 142: grounding of industrial and commercial power systems, electrode formulas"
        " and multiplying factors for several rods"
    ),
    EARTH_TESTING: (
        "IEEE Std 81: measuring earth resistivity and ground impedance, fall of potential and"
        " slope method"
    ),
    DWIGHT: "H. B. Dwight, Calculation of resistances to ground, 1936",
    WENNER: "F. Wenner, A method of measuring earth resistivity, 1915: four equally spaced probes",
    INSULATION: (
        "IEC 60364-6 table 6.1: insulation of extra-low voltage circuits, 250 V d.c., at least"
        " 0.5 megohm"
    ),
    UNCERTAINTY: "JCGM 100: guide to the expression of uncertainty in measurement",
    MONTE_CARLO: "JCGM 101: propagation of distributions, coverage intervals",
    CONFORMITY: "JCGM 106: the role of measurement uncertainty in conformity assessment",
    INVERSION: "J. Gil-Pelaez, Note on the inversion theorem, 1951",
    NEC_ELECTRODE: (
        "NFPA 70 (NEC) 250.53(A): a required single rod above 25 ohm is supplemented, at least"
        " 6 ft away; a controller's own rod is auxiliary (250.54)"
    ),
    BRIDGE_METHODS: "Murray and Varley loop tests, as in textbooks of power systems",
    KALMAN: "R. E. Kalman, A new approach to linear filtering, 1960: one scalar reading at a time",
    GENZ: "A. Genz, Numerical computation of multivariate normal probabilities, 1992",
    PRACTICE: "common practice of the trade, no published source",
    JUDGEMENT: "judgement: a default without a source, to be overridden in the site file",
}


def citation(key: str) -> str:
    """Text behind one source key; a key that is not in the registry is a KeyError."""
    return SOURCES[key]
