"""POST /api/calc/storage: what stands in a place, held against the storage tables of several bodies."""

from __future__ import annotations

from fractions import Fraction

from fastapi import APIRouter

from service.core.findings import Finding, Invalid, Verdict, note, stop, unknown
from service.core.storage_items import Stored
from service.core.storage_limits import RuleSetAnswer, judge_storage, uncounted
from service.core.storage_pairs import judge_pair, pairs_among
from service.records.knowledge_storage import storage_tables
from service.web.api.hazard_answers import finding_out
from service.web.api.solvent_components import data_used_out
from service.web.api.storage_answers import (
    PairOut,
    RuleSetOut,
    StorageOut,
    facts_of,
    item_out,
    limit_out,
    pair_out,
    spill_out,
    total_out,
)
from service.web.api.storage_question import StorageIn

router = APIRouter(prefix="/api/calc", tags=["calculators"])


@router.post("/storage", summary="What stands in a place, against storage limits")
def storage(asked: StorageIn) -> StorageOut:
    """Sums by category in every place, each against every row that was read, in the row's own unit.

    Touches no stock. A figure within its row says nothing of separation, ventilation or the building, and
    does not replace the code in force where you work, nor the authority that reads it.
    """
    place = asked.place.known()
    if not asked.items and not asked.pairs and place.cabinets_in_area is None:
        words = "Tell at least one item, one pair or the number of cabinets."
        raise Invalid(words, {"items": words})
    items = [one.known(number, place) for number, one in enumerate(asked.items, start=1)]
    near = Fraction(asked.near_share)
    asked_sets = asked.asked() if items or place.cabinets_in_area is not None else []
    answers = [judge_storage(storage_tables(), rule_set, place, items, near) for rule_set in asked_sets]
    pairs = _pairs(asked, items, answers)
    aside = list(uncounted(storage_tables(), place, answers))
    verdict = Verdict.of(
        [*_apart(pairs), *aside, *(finding for one in answers for finding in one.verdict), _caution()]
    )
    mets = {one.met for one in answers}
    whole = mets | {one.ok for one in pairs} | ({None} if aside else set())
    return StorageOut(
        met=False if False in whole else None if None in whole else True,
        agree=len(mets) <= 1,
        rule_sets=[
            RuleSetOut(
                rule_set=one.rule_set, met=one.met, sentence=one.sentence, complete=one.verdict.complete
            )
            for one in answers
        ],
        items=[item_out(answers, number) for number in range(len(items))],
        limits=[limit_out(row, near) for one in answers for row in one.rows],
        totals=[total_out(total) for one in answers for total in one.totals],
        pairs=pairs,
        spill_retention=spill_out(answers, items),
        findings=[finding_out(one) for one in verdict],
        complete=verdict.complete,
        data_used=data_used_out([fact for item in items for fact in facts_of(item)]),
    )


def _caution() -> Finding:
    words = "Rows are limits of amount alone. The code in force where you are and its authority come first."
    return note("rows-only", words)


def _pairs(asked: StorageIn, items: list[Stored], answers: list[RuleSetAnswer]) -> list[PairOut]:
    held = storage_tables().kept_apart
    flammable = {
        number
        for one in answers
        for number, thing in enumerate(one.things)
        if thing.burns
    }
    told = [judge_pair(held, one.known()) for one in asked.pairs]
    found = [judge_pair(held, one) for one in pairs_among(held, items, flammable)]
    return [*(pair_out(one, told=True) for one in told), *(pair_out(one, told=False) for one in found)]


def _apart(pairs: list[PairOut]) -> list[Finding]:
    found = []
    for one in pairs:
        about, source = f"{one.a} and {one.b}", "; ".join(one.citations)
        if one.ok is False:
            found.append(stop("kept-apart", f"{about}: {one.why}", source, about))
        elif one.ok is None:
            found.append(unknown("kept-apart-not-known", f"{about}: {one.why}", source, about))
    return found
