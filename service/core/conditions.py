"""What a look at a container can find, and what follows from it for its dates.

Doors: records/knowledge_conditions.py, actions/container_events.py, actions/set_condition_rule.py,
web/pages/condition_rules.py, core/ageing.py.

The consequences are the shop's to set within bounds (`softest`); what comes with the program is mostly house
policy, for the trade has few published rules.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Final

from service.core.findings import Invalid
from service.core.life_facts import CheckOutcome, ConditionCheck
from service.core.materials import MaterialKind
from service.core.months import say_date


class Found(StrEnum):
    """What somebody saw, smelled or tried."""

    SOUND = "sound"
    SKIN = "skin"
    SEPARATED = "separated"
    THICKENED = "thickened"
    SLOW = "slow-to-dry"
    GELLED = "gelled"
    NOT_MIXING = "not-mixing-back"
    RANCID = "rancid"
    MOULD = "mould"
    CAKED = "caked"
    COLOUR = "colour-shifted"
    DIRTY = "dirty"
    DROP_HARD = "drop-hard"
    DROP_SOFT = "drop-soft"
    FLAKES = "flakes-undissolved"
    PEROXIDE_BELOW = "peroxide-below"
    PEROXIDE_OVER = "peroxide-over"
    FAILED = "failed"


TOLD: Final = "something-odd"
"""What is kept as found where somebody told in their own words alone what they saw."""
NOT_LOOKED_AT: Final = "part-not-looked-at"
"""What is kept as found of a jar that took over a look which did not see all that is in it."""
NOT_TOLD: Final = frozenset({Found.SOUND, Found.PEROXIDE_BELOW, Found.PEROXIDE_OVER})
"""What nobody tells by a glance: a check lifts a doubt, a strip shows peroxides."""
SEEN: Final = {Found.SKIN: "a-skin-on-it", Found.SEPARATED: "settled-or-separated"}
"""What is kept as found where somebody only saw it: nothing was cut off or stirred by them."""
FOUND_WORDS: Final[dict[Found, str]] = {
    Found.SOUND: "sound",
    Found.SKIN: "a skin, cut and strained off",
    Found.SEPARATED: "separated, and it mixes back",
    Found.THICKENED: "thickened",
    Found.SLOW: "too slow to dry",
    Found.GELLED: "gelled",
    Found.NOT_MIXING: "lumps or strings that do not mix back",
    Found.RANCID: "rancid",
    Found.MOULD: "mould or a foul smell",
    Found.CAKED: "caked",
    Found.COLOUR: "a shifted colour",
    Found.DIRTY: "yellow, cloudy, sticky or wet",
    Found.DROP_HARD: "a drop on glass hard and smooth",
    Found.DROP_SOFT: "a drop on glass soft, slow or wrinkled",
    Found.FLAKES: "flakes that do not dissolve",
    Found.PEROXIDE_BELOW: "peroxides below the limit",
    Found.PEROXIDE_OVER: "peroxides at the limit or above",
    Found.FAILED: "not fit for another reason",
}
MEASURED: Final = frozenset({Found.PEROXIDE_BELOW, Found.PEROXIDE_OVER})
PEROXIDE_LIMIT_MG_L: Final = Decimal(100)
"""Iowa State University's table: scrapped at 100 ppm or more. A strip reads mg of H2O2 a litre."""
PEROXIDE_SOURCE: Final = "Iowa State University, peroxide formers: scrapped at 100 ppm or more"
MOST_MG_L: Final = Decimal(100_000)


class Consequence(StrEnum):
    """What a finding does to the dates, from the mildest to the hardest."""

    PASSES = "passes"
    MOVES_NOTHING = "moves-nothing"
    LOOK = "look-first"
    ENDS = "ends"


CONSEQUENCE_WORDS: Final[dict[Consequence, str]] = {
    Consequence.PASSES: "passes: more time where its policy gives any",
    Consequence.MOVES_NOTHING: "moves no date",
    Consequence.LOOK: "asks for a look before each use, until a check passes",
    Consequence.ENDS: "ends its life now",
}
_OUTCOMES: Final = {
    Consequence.PASSES: CheckOutcome.PASSED,
    Consequence.MOVES_NOTHING: CheckOutcome.NOTED,
    Consequence.LOOK: CheckOutcome.DOUBTED,
    Consequence.ENDS: CheckOutcome.FAILED,
}
_HARDNESS: Final = {one: rank for rank, one in enumerate(Consequence)}


@dataclass(frozen=True)
class ConditionRule:
    """What follows from one finding.

    Args:
        kind: for this kind of material only; None = for every kind without a rule of its own.
        softest: no shop may set it milder than this.
        kinds, keys: of which materials it is asked; both empty = of every one but `not_keys`.
        hint: what to look for, beside the choice.
    """

    found: Found
    consequence: Consequence
    what_to_do: str
    source: str
    grade: str
    house_policy: bool
    softest: Consequence
    kind: MaterialKind | None = None
    kinds: frozenset[MaterialKind] = frozenset()
    keys: frozenset[str] = frozenset()
    not_keys: frozenset[str] = frozenset()
    hint: str = ""

    def fits(self, kind: MaterialKind, key: str | None) -> bool:
        """Whether a look at such a material can find it."""
        if (key or "") in self.not_keys:
            return False
        if not self.kinds and not self.keys:
            return True
        return kind in self.kinds or (key or "") in self.keys

    @property
    def outcome(self) -> CheckOutcome:
        """What is written down with the check. A cut skin keeps a word of its own."""
        if self.found is Found.SKIN and self.consequence is Consequence.MOVES_NOTHING:
            return CheckOutcome.SKIN_CUT
        return _OUTCOMES[self.consequence]


def is_softer(one: Consequence, than: Consequence) -> bool:
    """Whether a consequence is milder than another.

    >>> is_softer(Consequence.PASSES, Consequence.ENDS), is_softer(Consequence.ENDS, Consequence.ENDS)
    (True, False)
    """
    return _HARDNESS[one] < _HARDNESS[than]


def found_by_strip(measured: Decimal) -> Found:
    """What a peroxide strip found, read in mg/l of hydrogen peroxide.

    Raises Invalid for a figure no strip shows.

    >>> found_by_strip(Decimal(25)).value, found_by_strip(Decimal(100)).value
    ('peroxide-below', 'peroxide-over')
    """
    if not measured.is_finite() or not 0 <= measured <= MOST_MG_L:
        words = f"Enter what the strip showed, in mg/l, from 0 to {MOST_MG_L}."
        raise Invalid(words, {"peroxide_mg_l": words})
    return Found.PEROXIDE_OVER if measured >= PEROXIDE_LIMIT_MG_L else Found.PEROXIDE_BELOW


def found_words(found: str | None) -> str:
    """A stored finding in words; what a newer program wrote as it stands.

    >>> found_words("skin"), found_words("of-a-later-program"), found_words(None)
    ('a skin, cut and strained off', 'of a later program', '')
    """
    if not found:
        return ""
    return FOUND_WORDS[Found(found)] if found in tuple(Found) else found.replace("-", " ")


def found_in_words(check: ConditionCheck) -> str:
    """What a check found, as a sentence with its day.

    >>> from datetime import date
    >>> found_in_words(ConditionCheck(date(2026, 3, 12), CheckOutcome.FAILED, "rancid"))
    'A check on 12 March 2026 found: rancid.'
    >>> found_in_words(ConditionCheck(date(2026, 3, 12), CheckOutcome.DOUBTED, "rancid", told=True))
    'On 12 March 2026 somebody saw and told: rancid. It was not a check.'
    """
    day, what = say_date(check.on), what_was_found(check)
    counted = f", written down late and counted from {day}," if check.late else ""
    if check.told:
        begin = f"Somebody saw and told{counted}" if counted else f"On {day} somebody saw and told"
        return f"{begin.rstrip(',')}: {what}. It was not a check."
    if check.elsewhere:
        return f"On {day} it was found in what went into it, came out of it or is of the same stuff: {what}."
    return f"A check{counted or f' on {day}'} found: {what}."


def all_found_in_words(checks: Sequence[ConditionCheck]) -> str:
    """Every open doubt, the newest last; of more than three the rest by their number.

    >>> from datetime import date
    >>> odd = ConditionCheck(date(2026, 3, 12), CheckOutcome.DOUBTED, "thickened")
    >>> all_found_in_words([odd, ConditionCheck(date(2026, 3, 13), CheckOutcome.DOUBTED, "rancid")])
    'A check on 12 March 2026 found: thickened. A check on 13 March 2026 found: rancid.'
    """
    told = [found_in_words(one) for one in checks[-3:]]
    if len(checks) > len(told):
        told.insert(0, f"{len(checks) - len(told)} more things were found.")
    return " ".join(told)


def what_was_found(check: ConditionCheck) -> str:
    """
    >>> from datetime import date
    >>> what_was_found(ConditionCheck(date(2026, 3, 12), CheckOutcome.DOUBTED))
    'something doubtful'
    """
    nothing = "it is not fit" if check.outcome is CheckOutcome.FAILED else "something doubtful"
    return found_words(check.found) or nothing


def who_found(checks: Iterable[ConditionCheck]) -> str:
    """The open doubts without their days, as half a sentence; empty without any.

    >>> from datetime import date
    >>> who_found([ConditionCheck(date(2026, 3, 12), CheckOutcome.DOUBTED, "rancid")]), who_found([])
    ('a check found: rancid', '')
    """
    return "; ".join(
        f"{_whose(one)}: {what_was_found(one)}" for one in checks
    )


def _whose(check: ConditionCheck) -> str:
    if check.told:
        return "somebody saw and told"
    if check.elsewhere:
        return "what went into it, came out of it or is of the same stuff was found"
    return "a check found"


def seen_as(found: Found) -> str:
    """What is kept of something that was seen and not handled.

    >>> seen_as(Found.SKIN), found_words(seen_as(Found.SKIN)), seen_as(Found.RANCID)
    ('a-skin-on-it', 'a skin on it', 'rancid')
    """
    return SEEN.get(found, found.value)
