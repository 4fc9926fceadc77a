"""The words for units that a bench writes, and which unit each can mean; what could be two is asked.

Doors: core/bench_writing.py, core/conversion.py.

A bare ounce is weight only of a powder or a solid; of a liquid or a paste it is as often a fluid ounce. Cup,
pint, quart and gallon differ by a sixth or more between the US and the imperial measure (a cup, a pint and a
gallon by 20 %): never guessed. Spoons and the fluid ounce differ by 1.4 and 4 %, less than a bench can
measure with them, so without a system the US measure is taken and said.
"""

from __future__ import annotations

from typing import Final

from service.core.bench_numbers import Choices
from service.core.findings import Invalid, note
from service.core.materials import Basis, Form
from service.core.quantities import UNITS, UnitSystem

PART: Final = "part"
PERCENT: Final = "percent"

_ALIASES: Final[dict[str, tuple[str, ...]]] = {
    "mg": ("mg", "milligram", "milligrams", "milligramme", "milligrammes"),
    "g": ("g", "gm", "gms", "gram", "grams", "gramme", "grammes"),
    "kg": ("kg", "kgs", "kilo", "kilos", "kilogram", "kilograms", "kilogramme", "kilogrammes"),
    "ml": ("ml", "mls", "cc", "millilitre", "millilitres", "milliliter", "milliliters"),
    "l": ("l", "ltr", "litre", "litres", "liter", "liters"),
    "oz": ("oz", "ozs", "ounce", "ounces"),
    "oz by weight": ("oz av", "oz avdp", "oz avoirdupois", "oz wt", "wt oz", "av oz", "avoirdupois oz",
                     "ounces avoirdupois", "ounce avoirdupois", "weight oz"),
    "lb": ("lb", "lbs", "pound", "pounds"),
    "drop": ("drop", "drops"),
    "tsp": ("tsp", "tsps", "teaspoon", "teaspoons", "teaspoonful", "teaspoonfuls", "teaspoonsful"),
    "tbsp": ("tbsp", "tbsps", "tbs", "tablespoon", "tablespoons", "tablespoonful", "tablespoonfuls",
             "tablespoonsful"),
    "fl oz": ("fl oz", "fl ozs", "floz", "oz fl", "fluid ounce", "fluid ounces", "fluid oz", "fl ounce",
              "fl ounces"),
    "cup": ("cup", "cups", "cupful", "cupfuls"),
    "pint": ("pint", "pints", "pt"),
    "pts": ("pts",),
    "quart": ("quart", "quarts", "qt", "qts"),
    "gal": ("gal", "gals", "gallon", "gallons"),
    "piece": ("piece", "pieces", "pc", "pcs", "ea"),
    PART: ("part", "parts"),
    PERCENT: ("%", "percent", "per cent"),
}  # fmt: skip
_WORDS: Final = {alias: name for name, aliases in _ALIASES.items() for alias in aliases}
_BY_SYSTEM: Final = {
    "tsp": ("us-tsp", "metric-tsp"),
    "tbsp": ("us-tbsp", "metric-tbsp"),
    "fl oz": ("us-fl-oz", "imp-fl-oz"),
    "cup": ("us-cup", "imp-cup"),
    "pint": ("us-pint", "imp-pint"),
    "quart": ("us-quart", "imp-quart"),
    "gal": ("us-gal", "imp-gal"),
}
_SMALL: Final = ("tsp", "tbsp", "fl oz")
_SPOONED: Final = ("tsp", "tbsp", "cup")
_SYSTEM_WORDS: Final = {
    "us": UnitSystem.US, "american": UnitSystem.US,
    "imp": UnitSystem.IMPERIAL, "imperial": UnitSystem.IMPERIAL, "uk": UnitSystem.IMPERIAL,
    "british": UnitSystem.IMPERIAL,
}  # fmt: skip
_EXPLAINED: Final = {
    "oz": "an ounce of weight, 28.35 g",
    "us-fl-oz": "a US fluid ounce, 29.57 ml",
    "imp-fl-oz": "an imperial fluid ounce, 28.41 ml",
    "us-cup": "the US cup of 236.6 ml",
    "imp-cup": "the imperial cup of 284.1 ml, half a pint",
    "us-pint": "the US pint of 473.2 ml",
    "imp-pint": "the imperial pint of 568.3 ml",
    "us-quart": "the US quart of 946.4 ml",
    "imp-quart": "the imperial quart of 1.137 l",
    "us-gal": "the US gallon of 3.785 l",
    "imp-gal": "the imperial gallon of 4.546 l",
    PART: "parts of a mix",
}
_NOT_TAKEN: Final = {
    "t": "Write tsp or tbsp: a single t can be either.",
    "gr": "Write g for grams: gr also means grains, fifteen times less.",
    "pinch": "A pinch has no size. Weigh it, or count level spoons.",
    "dash": "A dash has no size. Weigh it, or count drops.",
}


def unit_for(
    words: list[str],
    choices: Choices,
    *,
    form: Form | None,
    system: UnitSystem | None,
    after_pounds: bool = False,
) -> str:
    """The unit key (or "part", "percent") that these words mean; a Fork where they could mean several.

    ``after_pounds`` is for "1 lb 4 oz", where the ounce can only be weight. Raises Invalid for other words.

    >>> unit_for(["us", "pint"], Choices({}), form=None, system=None)
    'us-pint'
    """
    words, system, metric = _without_system(list(words), system)
    name = _WORDS.get(" ".join(words), "")
    if metric:
        if name not in ("tsp", "tbsp"):
            raise _unread(["metric", *words])
        return f"metric-{name}"
    if name == "oz by weight":
        return "oz"
    if name == "oz":
        if after_pounds or form in (Form.POWDER, Form.SOLID, Form.PIECES):
            return "oz"
        return _pick("oz", ["oz", *_keys("fl oz", system)], choices)
    if name == "pts":
        return _pick("pts", [PART, *_keys("pint", system)], choices)
    if name in _BY_SYSTEM:
        return _of_system(name, system, choices)
    if not name:
        raise _unread(words)
    return name


def _without_system(words: list[str], system: UnitSystem | None) -> tuple[list[str], UnitSystem | None, bool]:
    """Takes "US", "imperial", "metric" off either end."""
    for start, place in ((True, 0), (False, -1)):
        for dotted in (["u", "s"], ["u", "k"]):
            if len(words) > 2 and (words[:2] if start else words[-2:]) == dotted:
                words[slice(0, 2) if start else slice(-2, None)] = ["".join(dotted)]
        if len(words) > 1 and words[place] in _SYSTEM_WORDS:
            system = _SYSTEM_WORDS[words.pop(place)]
        elif len(words) > 1 and words[place] == "metric":
            words.pop(place)
            return words, system, True
    return words, system, False


def _keys(name: str, system: UnitSystem | None) -> list[str]:
    us, imperial = _BY_SYSTEM[name]
    return (
        [us] if system is UnitSystem.US else [imperial] if system is UnitSystem.IMPERIAL else [us, imperial]
    )


def _pick(name: str, keys: list[str], choices: Choices) -> str:
    return choices.pick(name, [(key, _EXPLAINED[key]) for key in keys])


def _of_system(name: str, system: UnitSystem | None, choices: Choices) -> str:
    keys = _keys(name, system)
    if name not in _SMALL:
        return _pick(name, keys, choices)
    key = choices.made.get(name, "")
    if key not in keys:
        key = keys[0]
        if len(keys) > 1:
            other = "metric spoon differs by 1.4 %" if name != "fl oz" else "imperial one is 4 % smaller"
            choices.findings.append(
                note("us-measure-taken", f"Read as {UNITS[key].plural}, for no system was said; the {other}.")
            )
    if UNITS[key].convention:
        choices.findings.append(note("spoon-convention", f"{name} here is {UNITS[key].convention}."))
    return key


def _unread(words: list[str]) -> Invalid:
    said = " ".join(words)
    if not said:
        return Invalid("Write the unit as well, such as g, ml, tsp, fl oz, parts or pieces.")
    return Invalid(_NOT_TAKEN.get(said, f"“{said[:40]}” is no unit known here. Use mg, g, kg, ml, l, oz, lb, "
                   "drops, tsp, tbsp, fl oz, cup, pint, quart, gal, parts, % or pieces."))  # fmt: skip


def is_spoon(key: str) -> bool:
    """Whether the unit is a spoon or cup, which can be level or heaped.

    >>> is_spoon("us-tsp"), is_spoon("ml")
    (True, False)
    """
    return key.rpartition("-")[2] in _SPOONED


def basis_of(key: str) -> Basis | None:
    """The basis of a unit key; None for parts and percent."""
    return UNITS[key].basis if key in UNITS else None
