"""The transformer of an output from its plate or data sheet, each answer checked by itself."""

from __future__ import annotations

from collections.abc import Mapping

from commission.authoring.draft import ANSWERED, Transformer, where_from
from commission.units import Quantity, parse_quantity

USUAL = {"rated": "24 V", "rating": "60 VA", "rise": "12 %", "resistance": ""}
MAX_RATED_V = 50.0  # extra-low voltage, a.c. (IEC 61140)
MAX_VA, MAX_A, MAX_OHM = 10_000.0, 100.0, 100.0  # beyond any plate (judgement)


class AnswerRefused(ValueError):
    """An answer that can't be meant; `key` names it."""

    def __init__(self, key: str, words: str) -> None:
        super().__init__(words)
        self.key = key


def transformer_of(answers: Mapping[str, str]) -> Transformer:
    """The transformer that answers describe; raises AnswerRefused.

    `rated` volts; `rating`, VA or amperes; `rise`, the regulation in % or the volts with nothing
    connected; `resistance` of the source in ohm, or nothing. Where no resistance is known, volts
    with nothing connected give the regulation: they over the rated volts, less one.
    """
    rated_v = quantity(answers, "rated", "voltage", "write volts, as 24 V")
    if not 1 <= rated_v <= MAX_RATED_V:
        raise AnswerRefused("rated", f"an output has 1 to {MAX_RATED_V:g} V a.c.")
    carries = _rating_key(answers)
    open_v = _open_circuit_v(answers, rated_v)
    keys = {"rated_voltage": answers["rated"], carries: answers["rating"]}
    where = {
        "rated_voltage": where_from(answers["rated"], USUAL["rated"]),
        carries: where_from(answers["rating"], USUAL["rating"]),
    }
    rise = answers["rise"]
    in_percent, from_rise = rise.endswith("%"), where_from(rise, USUAL["rise"])
    if answers["resistance"]:
        ohms = quantity(answers, "resistance", "resistance", "write ohms, as 0.8 ohm")
        if not 0 < ohms <= MAX_OHM:
            raise AnswerRefused("resistance", f"up to {MAX_OHM:g} ohm, or leave it empty")
        keys["open_circuit_voltage"] = f"{open_v:.6g} V" if in_percent else rise
        keys["source_resistance"] = answers["resistance"]
        of = f"regulation of {rise}, " if in_percent else ""
        where["open_circuit_voltage"] = f"{of}{from_rise}"
        where["source_resistance"] = ANSWERED
    else:
        keys["regulation"] = rise if in_percent else f"{100 * (open_v / rated_v - 1):.6g} %"
        where["regulation"] = from_rise if in_percent else f"from {rise} open, {from_rise}"
    return Transformer(keys, where)


def plate_of(words: str) -> dict[str, str]:
    """The answers that a plate on one line gives, as "24 V; 60 VA; 12 %; 0.8 ohm".

    What stands last may be left out, or any left empty: the usual stands in. Raises AnswerRefused.
    """
    return _set_apart(words, USUAL, "rated volts; VA or amperes; regulation; source resistance")


def mains_on_one_line(words: str, usual: Mapping[str, str]) -> dict[str, str]:
    """The same for the mains, as "120 V; 60 Hz", checked."""
    return mains_of(_set_apart(words, usual, "volts; frequency"))


def _set_apart(words: str, usual: Mapping[str, str], order: str) -> dict[str, str]:
    parts = [part.strip() for part in words.split(";")]
    if len(parts) > len(usual):
        raise AnswerRefused("", f"write {order}, set apart by semicolons")
    return dict(usual) | {key: part for key, part in zip(usual, parts, strict=False) if part}


def mains_of(answers: Mapping[str, str]) -> dict[str, str]:
    """Volts and frequency of the mains, checked; raises AnswerRefused."""
    volts = quantity(answers, "mains", "voltage", "write volts, as 120 V")
    if not 50 <= volts <= 500:
        raise AnswerRefused("mains", "mains have 50 to 500 V")
    if not 45 <= quantity(answers, "frequency", "frequency", "write 50 Hz or 60 Hz") <= 65:
        raise AnswerRefused("frequency", "mains have 50 Hz or 60 Hz")
    return {"mains": answers["mains"], "frequency": answers["frequency"]}


def _rating_key(answers: Mapping[str, str]) -> str:
    """The key of the site file for what the output may carry."""
    try:
        rating, key, most = parse_quantity(answers["rating"], "power"), "rating", MAX_VA
    except ValueError:
        hint = "write VA or amperes, as 60 VA or 2.5 A"
        rating, key = quantity(answers, "rating", "current", hint), "rated_current"
        most = MAX_A
    if not most / 10_000 <= rating <= most:
        raise AnswerRefused("rating", f"1 to {MAX_VA:g} VA, or 0.01 to {MAX_A:g} A")
    return key


def _open_circuit_v(answers: Mapping[str, str], rated_v: float) -> float:
    """Volts with nothing connected."""
    rise, hint = answers["rise"], "write a percentage or volts, as 12 % or 27 V"
    if rise.endswith("%"):
        open_v = rated_v * (1 + quantity(answers, "rise", "fraction", hint))
    else:
        open_v = quantity(answers, "rise", "voltage", hint)
    if not rated_v <= open_v <= 2 * rated_v:
        words = f"with nothing connected it has {rated_v:g} V or more, and never twice that"
        raise AnswerRefused("rise", words)
    return open_v


def quantity(answers: Mapping[str, str], key: str, kind: Quantity, hint: str) -> float:
    """The SI value of an answer; raises AnswerRefused."""
    try:
        return parse_quantity(answers[key], kind)
    except ValueError as error:
        raise AnswerRefused(key, f"{error}; {hint}") from None
