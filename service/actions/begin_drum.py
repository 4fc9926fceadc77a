"""A keeper begins a drum of waste: what goes in, its codes with citation and grade, where it stands.

Codes are judged from what is told of the stream, or written by the keeper with a reason; they stay as they
were on that day. And the keeper tells the generator category of the site and the way to the receiver.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any, Final

from sqlmodel import Session

from service.actions.drum_entries import (
    DrumFact,
    kept_text,
    place_of_list,
    read_put_in,
    write_drum_entry,
)
from service.actions.judge_drum_mix import BEGUN_WITH
from service.actions.settle import Act, Sent, Settled, settle
from service.core.access import Actor, Permission, require
from service.core.findings import Invalid, Refused, Verdict, note, stop
from service.core.material_facts import FlashMethod
from service.core.materials import Unknown
from service.core.storage_ladders import Temperature
from service.core.waste_codes import judge_stream
from service.core.waste_drum_clocks import law_of
from service.core.waste_drum_lacks import size_findings
from service.core.waste_drums import Area, DrumStep
from service.core.waste_rules import Category, Cited, Jurisdiction, WasteTables
from service.core.waste_streams import Stream
from service.core.written_reason import A_SENTENCE, is_sentence
from service.records.knowledge_waste import waste_tables
from service.records.waste_drum_queries import seen_drum, seen_drums
from service.records.waste_drums import WasteDrum, WasteSite

_US: Final = re.compile(r"[DFKPU]\d{3}")
_LIST: Final = re.compile(r"\d{2} \d{2} \d{2}\*?")
_SURE: Final = {Unknown.YES: True, Unknown.NO: False}


@dataclass(frozen=True, kw_only=True)
class BeginDrumAsked:
    """A drum that is filled from now on, or is being filled already.

    Args:
        stream, hazards: what goes in, and its hazards, in words for the label.
        acute: whether it is acute hazardous waste; not known counts as acute.
        capacity: its size as written, with a unit; empty = not known.
        first_waste_on: the day of the first waste where some is in it already; None = it is empty.
        holds: how much that is, as written; empty = not known.
        liquid, flash, self_heating, spent, ph: what the codes are judged from; None, NOT_KNOWN = not told.
        metals: whether metals of pigments or driers may be in it.
        flash: a closed-cup flash point in ``flash_unit``, C or F.
        codes: codes a keeper writes, parted by commas; ``codes_reason`` says why.
    """

    once: str
    name: str
    stream: str
    hazards: str
    area: Area
    acute: Unknown = Unknown.NOT_KNOWN
    place_id: int | None = None
    capacity: str = ""
    first_waste_on: date | None = None
    holds: str = ""
    liquid: Unknown = Unknown.NOT_KNOWN
    flash: Decimal | None = None
    flash_unit: str = "C"
    self_heating: Unknown = Unknown.NOT_KNOWN
    spent: Unknown = Unknown.NOT_KNOWN
    ph: Decimal | None = None
    metals: Unknown = Unknown.NOT_KNOWN
    codes: str = ""
    codes_reason: str = ""

    def body(self) -> dict[str, Any]:
        left_out = {"once"} | ({"metals"} if self.metals is Unknown.NOT_KNOWN else set())
        return {name: str(value) for name, value in vars(self).items() if name not in left_out}


def begin_drum(session: Session, actor: Actor, now: datetime, asked: BeginDrumAsked) -> Settled:
    """Begin a drum; answers ``drum``, its number, and its codes.

    Raises:
        NotAllowed: not a keeper.
        Invalid: no name, contents or hazards; a code that is none; a day to come; a size that is no volume;
            an amount in it without the day of the first waste.
        Refused: a drum of this name stands already.
    """
    require(actor, Permission.WASTE_HAND_OVER)
    sent = Sent(asked.once, "begin-waste-drum", asked.body())
    return settle(session, actor, sent, now, lambda act: _begin(act, asked))


def _begin(act: Act, asked: BeginDrumAsked) -> dict[str, Any]:
    name, stream = kept_text(asked.name, "name", 120), kept_text(asked.stream, "stream", 300)
    hazards = kept_text(asked.hazards, "hazards", 300)
    for text, field, words in (
        (name, "name", "Give it a name that stands on it."),
        (stream, "stream", "Say what goes into it, in words."),
        (hazards, "hazards", "Say what is dangerous about it: it must stand on the drum."),
    ):
        if not text:
            raise Invalid(words, {field: words})
    if asked.first_waste_on is not None and asked.first_waste_on > act.day:
        words = "That day has not come yet. Give the day of the first waste."
        raise Invalid(words, {"first_waste_on": words})
    if asked.first_waste_on is None and asked.holds.strip():
        words = "Give the day of the first waste; if nobody knows it, the earliest day it can have been."
        raise Invalid(words, {"first_waste_on": words})
    place_of_list(act, asked.place_id)
    standing = [one for one in seen_drums(act.session) if one.state.standing]
    if any(one.row.name.casefold() == name.casefold() for one in standing):
        words = f"A drum called {name} stands already. Give this one another name."
        raise Refused(Verdict.of([stop("drum-name-taken", words, about=name)]))
    mg, size = read_put_in(act, asked.capacity, "capacity")
    if mg is not None:
        words = "The size of a drum is a volume, like “55 US gal” or “200 l”."
        raise Invalid(words, {"capacity": words})
    codes = codes_of(act, asked)
    drum = WasteDrum(
        posting_id=act.posting_id, name=name, place_id=asked.place_id, stream=stream, hazards=hazards,
        area=asked.area, acute=asked.acute, capacity_ul=size, capacity_written=asked.capacity.strip()[:60],
        codes=codes, codes_reason=asked.codes_reason.strip(), begun_on=asked.first_waste_on or act.day,
        person_id=act.actor.person_id, recorded_at=act.recorded_at,
    )  # fmt: skip
    act.session.add(drum)
    act.session.flush()
    if asked.first_waste_on is not None:
        held_mg, held_ul = read_put_in(act, asked.holds, "holds")
        fact = DrumFact(
            on=asked.first_waste_on, mg=held_mg, ul=held_ul, written=asked.holds.strip()[:200],
            what=BEGUN_WITH,
        )  # fmt: skip
        write_drum_entry(act, drum.id or 0, DrumStep.PUT_IN, fact)
        act.note(*size_findings(seen_drum(act.session, drum.id or 0).state))
    return {"drum": drum.id, "name": name, "codes": [one for one in codes if one["applies"] is not False]}


def codes_of(act: Act, asked: BeginDrumAsked) -> list[dict[str, Any]]:
    """The codes of a stream: judged from what is told of it (US only), then those the keeper wrote.

    Those that do not hold are kept too: what does not stand here was never judged.

    Raises:
        Invalid: what is written is no code, or has no reason.
    """
    tables, found = waste_tables(), []
    if law_of(act.shop.regime) is Jurisdiction.US:
        judged = judge_stream(tables, _stream(asked))
        act.note(*judged.findings)
        found = [
            {
                "code": one.code, "applies": one.applies, "why": one.why,
                "grade": "read" if one.read else "memory",
                "citation": "; ".join(dict.fromkeys(row.citation for row in one.rows)),
            }
            for one in judged.codes
        ]  # fmt: skip
    else:
        act.note(note("waste-codes-not-judged", "Codes are judged for the United States only. Write yours."))
    written = [_one_code(text) for text in re.split(r"[,;\n]", asked.codes) if text.strip()]
    if len(written) > 40:
        raise Invalid("Write at most 40 codes.", {"codes": "Write at most 40 codes."})
    if written and not is_sentence(asked.codes_reason):
        words = f"Say in {A_SENTENCE} on whose word these codes stand."
        raise Invalid(words, {"codes_reason": words})
    for code in dict.fromkeys(written):
        row = _row_of(tables, code)
        found.append({
            "code": code, "applies": True, "why": asked.codes_reason.strip(), "grade": "written by a keeper",
            "citation": f"{row.citation} ({row.grade})" if row else "not in our tables",
        })  # fmt: skip
    return found


def _stream(asked: BeginDrumAsked) -> Stream:
    flash = None if asked.flash is None else Temperature(Fraction(asked.flash), asked.flash_unit)
    return Stream(
        name=" ".join(asked.stream.split()), liquid=_SURE.get(asked.liquid), flash=flash,
        flash_method=FlashMethod.CLOSED_CUP, self_heating=_SURE.get(asked.self_heating),
        spent=_SURE.get(asked.spent), ph=None if asked.ph is None else Fraction(asked.ph),
        metals=_SURE.get(asked.metals), words=asked.hazards,
    )  # fmt: skip


def _one_code(text: str) -> str:
    code = " ".join(text.split()).upper()
    if re.fullmatch(r"\d{6}\*?", code):
        code = f"{code[:2]} {code[2:4]} {code[4:]}"
    if not _US.fullmatch(code) and not _LIST.fullmatch(code):
        words = f"“{code[:30]}” is no code of waste. Write like D001 or 08 01 11*, parted by commas."
        raise Invalid(words, {"codes": words})
    return code


def _row_of(tables: WasteTables, code: str) -> Cited | None:
    for row in tables.codes:
        if code in row.codes:
            return row
    return next((row for row in tables.entries if row.code.rstrip("*") == code.rstrip("*")), None)


@dataclass(frozen=True)
class SiteAsked:
    """What a keeper tells of the whole site. ``category`` None: not known. ``haul_miles``: 0 to 20000."""

    once: str
    category: Category | None
    haul_miles: int | None
    reason: str


def tell_site(session: Session, actor: Actor, now: datetime, asked: SiteAsked) -> Settled:
    """Write down the generator category and the way; the newest counts, from now on.

    Raises:
        NotAllowed: not a keeper.
        Invalid: no reason in a real sentence, a way that is none.
    """
    require(actor, Permission.WASTE_HAND_OVER)
    category = asked.category.value if asked.category else None
    body = {"category": category, "haul_miles": asked.haul_miles, "reason": asked.reason}
    sent = Sent(asked.once, "tell-waste-site", body)
    return settle(session, actor, sent, now, lambda act: _tell(act, asked))


def _tell(act: Act, asked: SiteAsked) -> dict[str, Any]:
    if asked.haul_miles is not None and not 0 <= asked.haul_miles <= 20_000:
        words = "Enter the way in miles, 0 to 20000."
        raise Invalid(words, {"haul_miles": words})
    if not is_sentence(asked.reason) or len(asked.reason) > 2000:
        words = f"Say in {A_SENTENCE} how you know it."
        raise Invalid(words, {"reason": words})
    row = WasteSite(
        posting_id=act.posting_id, category=asked.category, haul_miles=asked.haul_miles,
        reason=asked.reason.strip(), person_id=act.actor.person_id, recorded_at=act.recorded_at,
    )  # fmt: skip
    act.session.add(row)
    act.session.flush()
    return {"site": row.id, "category": asked.category.value if asked.category else None}
