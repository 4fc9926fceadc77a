"""What the bench page shows of additions: the ways to add, who added lately, what is owed a count."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Any, Final

from sqlmodel import Session

from service.actions.add_to_batch import last_pot
from service.actions.addition_amounts import owing_a_count, span_of
from service.actions.change_of_addition import change_of_addition, change_of_undo
from service.core.access import Actor
from service.core.additions import HOW_WORDS, HowAdded
from service.core.hazards.regimes import Regime
from service.core.materials import Basis
from service.core.quantities import show_amount
from service.core.shelf_codes import show_code
from service.records.mixing import Batch, BatchState
from service.records.mixing_queries import Added
from service.web.change_view import ChangeView, span_words, view_change
from service.web.deps import shop_today
from service.web.forms import Posted
from service.web.render import instant

LATELY: Final = timedelta(minutes=30)
ADDED: Final = [
    {"key": "material", "label": "Material"},
    {"key": "amount", "label": "How much", "number": True},
    {"key": "code", "label": "From"},
    {"key": "who", "label": "Put in by"},
    {"key": "when", "label": "When"},
    {"key": "more", "label": "Change and undo"},
]


class Way(StrEnum):
    """A way to add, as the page offers it."""

    SCAN = "scan"
    MATERIAL = "material"
    POT = "pot"
    CONTAINER = "container"
    NOT_MEASURED = "not-measured"


WAY_WORDS: Final = {
    Way.SCAN: "Scan",
    Way.MATERIAL: "Material",
    Way.POT: "Pot on the scale",
    Way.CONTAINER: "All of a container",
    Way.NOT_MEASURED: "Not measured",
}
HOW_OF: Final = {
    Way.SCAN: HowAdded.AMOUNT,
    Way.MATERIAL: HowAdded.AMOUNT,
    Way.POT: HowAdded.POT,
    Way.CONTAINER: HowAdded.CONTAINER,
    Way.NOT_MEASURED: HowAdded.NOT_MEASURED,
}


@dataclass(frozen=True)
class LastChange:
    """The newest addition that stands, in words, and what it changed."""

    href: str
    words: str
    change: ChangeView


def amount_of_material(written: str, name: str) -> str:
    """An addition in one breath.

    >>> amount_of_material("2 tsp", "raw umber"), amount_of_material("not measured", "raw umber")
    ('2 tsp of raw umber', 'some raw umber (not measured)')
    """
    if written == HOW_WORDS[HowAdded.NOT_MEASURED]:
        return f"some {name} (not measured)"
    return f"{written} of {name}"


def way_of(p: Posted[Any]) -> Way:
    """The way a form was sent in; one that does not say it tells by what it holds."""
    said = p.text("way")
    return Way(said) if said in set(Way) else Way.MATERIAL if p.text("material") else Way.SCAN


def ways_for(batch_id: int, chosen: Way) -> list[dict[str, Any]]:
    """The short choice that stands before the form; the rare ones are folded."""
    return [
        {
            "href": f"/bench/{batch_id}?way={way.value}#add", "words": words, "here": way is chosen,
            "rare": way not in (Way.SCAN, Way.MATERIAL),
        }
        for way, words in WAY_WORDS.items()
    ]  # fmt: skip


def last_change(
    session: Session, batch: Batch, added: Sequence[Added], now: datetime, regime: Regime
) -> LastChange | None:
    """What the newest standing addition changed; judged for this one alone, the others are opened."""
    standing = [one for one in added if not one.reversed]
    if not standing or batch.id is None or standing[-1].row.id is None:
        return None
    newest = standing[-1]
    done = change_of_addition(session, batch.id, newest.row.id or 0, regime, shop_today(session, now))
    if done.change is None:
        return None
    href = f"/bench/{batch.id}/additions/{newest.row.id}"
    words = amount_of_material(newest.row.written, newest.material.name)
    return LastChange(href, f"{words[0].upper()}{words[1:]}", view_change(done.change))


def last_undone(
    session: Session, batch: Batch, added: Sequence[Added], undone: int | None, now: datetime, regime: Regime
) -> LastChange | None:
    """What taking an addition back made of the batch, for the page right after it."""
    one = next((one for one in added if one.reversed and one.row.id == undone), None)
    if one is None or batch.id is None:
        return None
    change = change_of_undo(session, batch.id, one.row.id or 0, regime, shop_today(session, now))
    words = amount_of_material(one.row.written, one.material.name)
    href = f"/bench/{batch.id}/additions/{one.row.id}"
    return LastChange(href, f"Taking back {words}", view_change(change))


def pot_before(session: Session, batch_id: int) -> str:
    """What the pot weighed last, in grams, as the next "before"; empty where nobody knows."""
    last = last_pot(session, batch_id)
    return "" if last is None else show_amount(last, Basis.MASS, "g").removesuffix(" g")


def others_lately(added: Sequence[Added], actor: Actor, now: datetime, zone: str) -> list[str]:
    """Who else put something in within the last half hour, the newest first, at most three."""
    theirs = [
        one
        for one in added
        if one.row.person_id != actor.person_id and now - one.row.added_at <= LATELY and not one.reversed
    ]
    return [
        f"{one.person.name} put in {amount_of_material(one.row.written, one.material.name)}, "
        f"{instant(one.row.added_at, zone)}."
        for one in theirs[:-4:-1]
    ]


def counts_owed(session: Session, added: Sequence[Added]) -> list[dict[str, str]]:
    """The containers that owe a count, each with the page that counts it."""
    return [
        {"shown": show_code(one.container.code), "name": one.material.name,
         "href": f"/containers/{one.container.code}/count"}
        for one in owing_a_count(session, added)
        if one.container is not None
    ]  # fmt: skip


def row_of(session: Session, batch: Batch, one: Added, zone: str) -> dict[str, Any]:
    """One addition in the list of what went in."""
    box = one.container
    return {
        "material": one.material.name,
        "amount": {"lines": amount_lines(session, one)},
        "code": {"href": f"/C/{box.code}", "words": show_code(box.code)} if box else "the tap",
        "who": one.person.name,
        "when": instant(one.row.added_at, zone),
        "more": {
            "href": f"/bench/{batch.id}/additions/{one.row.id}",
            "words": "Open or undo" if batch.state is BatchState.RUNNING and not one.reversed else "Open",
        },
        "_class": "struck" if one.reversed else "",
    }


def amount_lines(session: Session, one: Added) -> list[str]:
    """How much it was: as written, by the pot, all that was left, or what it can have been."""
    row = one.row
    if one.reversed:
        return [f"{row.written} (taken back)"]
    if row.amount is None and row.basis is not None:
        span = span_of(session, one)
        if span.by_count:
            return ["not measured", f"{span_words(span, row.basis)} by the count since"]
        most = span_words(span, row.basis) if span.high is not None else "nobody knows the most"
        return ["not measured", most]
    if row.how == HowAdded.POT and row.amount is not None and row.basis is not None:
        return [show_amount(row.amount, row.basis), row.written]
    if row.how == HowAdded.CONTAINER:
        return [row.written, "all that was left in it"]
    return [row.written]


def pot_words(one: Added) -> str | None:
    """The pot before and after, in grams."""
    before, after = one.row.pot_before_mg, one.row.pot_after_mg
    if before is None or after is None:
        return None
    return f"{show_amount(before, Basis.MASS)} before, {show_amount(after, Basis.MASS)} after"
