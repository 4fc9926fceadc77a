"""`/api/waste-drums`: drums of waste with their clocks, what was put in, hand-overs, the site's category."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter

from service.actions.begin_drum import BeginDrumAsked, SiteAsked, begin_drum, tell_site
from service.actions.fill_drum import (
    DrumBackAsked,
    SortAsked,
    StepAsked,
    note_drum_step,
    put_discards_in,
    take_back_entry,
)
from service.actions.look_at_drums import waste_record
from service.actions.settle import Settled
from service.core.findings import Finding
from service.core.waste import say_kg
from service.core.waste_drum_clocks import JudgedDrum
from service.core.waste_drums import Area, DrumStep
from service.core.waste_rules import Jurisdiction
from service.records.book_time import book_now
from service.records.drum_codes import codes_now
from service.records.waste_drum_queries import SeenDrum, seen_drum
from service.web.access_gate import Signed
from service.web.api.hazard_answers import finding_out
from service.web.api.posting import (
    PROBLEMS,
    FindingOut,
    acting_for,
    place_number,
    told_now,
)
from service.web.api.waste_drum_models import (
    BackIn,
    DrumAct,
    DrumIn,
    DrumList,
    DrumOut,
    DrumWhole,
    EntryIn,
    EntryOut,
    HandOverIn,
    HandOverOut,
    SiteIn,
    SiteOut,
    SortIn,
)
from service.web.deps import Data, Now
from service.web.drum_table import say_kg_of
from service.web.fields import Id

router = APIRouter(prefix="/api", tags=["store"], responses=PROBLEMS)


def _answer(done: Settled) -> DrumAct:
    told = {name: done.result[name] for name in ("drum", "entry", "findings") if name in done.result}
    return DrumAct(posting=done.posting_id, repeated=done.repeated, **told)


def _finding(one: Finding) -> FindingOut:
    return FindingOut(**finding_out(one).model_dump())


def _shown(seen: SeenDrum, judged: JudgedDrum | None, law: Jurisdiction | None) -> dict[str, Any]:
    row, state = seen.row, seen.state
    here = Area.SATELLITE if state.in_satellite else Area.CENTRAL
    return {
        "id": seen.number, "name": row.name, "stream": row.stream, "hazards": row.hazards,
        "codes": codes_now(seen, law), "acute": row.acute, "place": seen.place_id,
        "area": here if judged else None, "size": row.capacity_written, "first_waste_on": state.first_on,
        "started": judged.started if judged else None, "over_since": judged.excess_on if judged else None,
        "leaves_by": judged.deadline if judged else None, "overdue": judged.overdue if judged else False,
        "rule": judged.citation if judged else "", "grade": judged.grade if judged else "",
        "kg": say_kg_of(state.mg.known), "kg_is_at_least": state.mg.more, "closed_on": state.closed_on,
        "handed_over_on": state.gone_on,
        "findings": [_finding(one) for one in judged.findings] if judged else [],
    }  # fmt: skip


@router.get("/waste-drums", summary="Waste drums with their clocks, and hand-overs")
def drums(data: Data, now: Now) -> DrumList:
    """What stands here, until when and by which rule; what left; what is in no drum."""
    with data.reading() as session:
        record = waste_record(session, book_now(session, now))
    site = record.site
    return DrumList(
        today=record.today, rules_read=site is not None,
        site=site and SiteOut(
            category_told=record.told.category, category=site.category, haul_miles=record.told.haul_miles,
            kg=say_kg(site.kg), kg_is_at_least=site.more, cap_exceeded=site.cap.exceeded,
            cap_kg=None if site.cap.cap_kg is None else say_kg(site.cap.cap_kg),
        ),
        drums=[DrumOut(**_shown(one.seen, one.judged, record.law)) for one in record.drums],
        handed_over=[
            HandOverOut(
                drum=one.seen.number, name=one.seen.row.name, on=one.entry.row.on_day,
                receiver=one.entry.row.receiver, transporter=one.entry.row.transporter,
                paper=one.entry.row.paper,
                kg=None if one.entry.mg is None else say_kg_of(one.entry.mg),
            )
            for one in record.handed_over
        ],
        in_no_drum=[one.movement_id for one in record.in_no_drum],
        findings=[_finding(one) for one in record.findings],
    )  # fmt: skip


@router.post("/waste-drums", status_code=201, summary="Begin a waste drum")
def begin(data: Data, now: Now, actor: Signed, asked: DrumIn) -> DrumAct:
    """Its codes are judged from what is told of the stream, or written with a reason."""
    told_now(asked.happened_at, now)
    told = {name: getattr(asked, name) for name in BeginDrumAsked.__dataclass_fields__ if name != "place_id"}
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        place = place_number(session, asked.place, "place")
        return _answer(begin_drum(session, person, now, BeginDrumAsked(**told, place_id=place)))


@router.get("/waste-drums/{drum_id}", summary="One waste drum with its entries")
def drum(drum_id: Id, data: Data, now: Now) -> DrumWhole:
    """Every entry in the order of the book, those that do not count among them."""
    with data.reading() as session:
        record = waste_record(session, book_now(session, now))
        seen = seen_drum(session, drum_id)
    judged = next((one.judged for one in record.drums if one.number == drum_id), None)
    gone = {one.row.reverses_id for one in seen.entries}
    entries = [
        EntryOut(
            id=one.row.id or 0, step=one.row.step, on=one.row.on_day, what=one.row.what,
            kg=None if one.mg is None else say_kg_of(one.mg),
            litres=None if one.ul is None else say_kg_of(one.ul),
            container=one.code, load=one.row.load_id, takes_back=one.row.reverses_id, by=one.by,
            counts=one.row.step is not DrumStep.TAKEN_BACK and one.row.id not in gone and not one.undone,
            happened_at=one.row.happened_at, recorded_at=one.row.recorded_at, late=one.row.late,
            late_reason=one.row.late_reason, note=one.row.note,
        )
        for one in seen.entries
    ]  # fmt: skip
    return DrumWhole(**_shown(seen, judged, record.law), entries=entries)


@router.post("/waste-drums/{drum_id}/entries", status_code=201, summary="What happened to a waste drum")
def enter(drum_id: Id, data: Data, now: Now, actor: Signed, asked: EntryIn) -> DrumAct:
    """409 with findings when the drum is handed over or closed, or the step makes no sense."""
    with data.writing() as session:
        step = StepAsked(
            once=asked.once, drum_id=drum_id, step=DrumStep(asked.step), amount=asked.amount,
            what=asked.what, load_id=asked.load, place_id=place_number(session, asked.place, "place"),
            note=asked.note, confirmation=asked.confirmation, happened_at=asked.happened_at,
            late_reason=asked.late_reason,
        )  # fmt: skip
        return _answer(note_drum_step(session, acting_for(session, actor, asked.person, now), now, step))


@router.post("/waste-drums/{drum_id}/hand-over", status_code=201, summary="Hand a waste drum over")
def hand_over(drum_id: Id, data: Data, now: Now, actor: Signed, asked: HandOverIn) -> DrumAct:
    """From then on it takes nothing; corrected only by taking the entry back."""
    step = StepAsked(
        once=asked.once, drum_id=drum_id, step=DrumStep.HANDED_OVER, amount=asked.mass,
        receiver=asked.receiver, transporter=asked.transporter, paper=asked.paper, note=asked.note,
        happened_at=asked.happened_at, late_reason=asked.late_reason,
    )  # fmt: skip
    with data.writing() as session:
        return _answer(note_drum_step(session, acting_for(session, actor, asked.person, now), now, step))


@router.post("/waste-drums/{drum_id}/discards", status_code=201, summary="Say which drum discards went into")
def sort(drum_id: Id, data: Data, now: Now, actor: Signed, asked: SortIn) -> DrumAct:
    """Only discards into a waste drum that are in none of the book yet."""
    told_now(asked.happened_at, now)
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        wanted = SortAsked(asked.once, drum_id, tuple(asked.movements), asked.confirmation)
        return _answer(put_discards_in(session, person, now, wanted))


@router.post(
    "/waste-drum-entries/{drum_entry_id}/reversal", status_code=201, summary="Take an entry of a drum back"
)
def take_back(drum_entry_id: Id, data: Data, now: Now, actor: Signed, asked: BackIn) -> DrumAct:
    """By an entry of its own; nothing is erased."""
    told_now(asked.happened_at, now)
    with data.writing() as session:
        wanted = DrumBackAsked(asked.once, drum_entry_id, asked.reason)
        return _answer(take_back_entry(session, acting_for(session, actor, asked.person, now), now, wanted))


@router.post("/waste-site", status_code=201, summary="Tell the generator category and the way")
def site(data: Data, now: Now, actor: Signed, asked: SiteIn) -> DrumAct:
    """The newest counts; a heavier month of the book counts before it."""
    told_now(asked.happened_at, now)
    with data.writing() as session:
        wanted = SiteAsked(asked.once, asked.category, asked.haul_miles, asked.reason)
        return _answer(tell_site(session, acting_for(session, actor, asked.person, now), now, wanted))
