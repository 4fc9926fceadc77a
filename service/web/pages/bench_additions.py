"""`/bench/N/add` and `/bench/N/additions/M`: putting something in, what it changed, and taking it back."""

from collections.abc import Mapping
from datetime import datetime
from typing import Annotated, Any, ClassVar, Final, Literal
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field
from sqlmodel import Session

from service.actions.add_to_batch import AddAsked, add
from service.actions.change_of_addition import change_if_added, change_of_addition, change_of_undo
from service.actions.undo_addition import UndoAsked, judge_undo, the_addition, undo_addition
from service.core.access import Actor, Permission, may
from service.core.additions import HOW_WORDS, WAS_IN_WORDS, HowAdded, WasIn
from service.core.findings import Finding, Invalid, NotFound, Refused, Severity, Stale, Verdict
from service.core.never_with import CODE as NEVER_WITH
from service.core.shelf_codes import show_code
from service.records.mixing import BatchState
from service.records.mixing_queries import Added, additions_of
from service.web.access_gate import Signed
from service.web.act_forms import ANSWERABLE
from service.web.batch_words import seen_batch
from service.web.bench_view import HOW_OF, Way, amount_lines, amount_of_material, pot_words, way_of
from service.web.change_view import view_change
from service.web.chrome import flash
from service.web.deps import Data, Now, shop_today, shop_zone
from service.web.fields import Id, Name, Note, Once, Sentence, WrittenAmount
from service.web.forms import FormModel, Posted, filled, posted
from service.web.pages.bench import batch_page
from service.web.pages.material_hazards import shop_regime
from service.web.pages.recipes import fresh_once
from service.web.render import instant, page
from service.web.when_done import WhenDone

router = APIRouter(prefix="/bench", include_in_schema=False)

NOTHING_AGAINST: Final = Verdict()
_TOLD: Final = frozenset({"owes-a-count", "pot-changed"})


class AddForm(WhenDone):
    """One more addition. ``seen``: the newest addition that stood on the page it was typed on."""

    way: Way = Field(default=Way.SCAN, title="How to add")
    code: Name | None = Field(default=None, title="Container code")
    material: Id | None = Field(default=None, title="Material")
    amount: WrittenAmount | None = Field(default=None, title="How much you put in")
    before: WrittenAmount | None = Field(default=None, title="The pot before, in grams")
    after: WrittenAmount | None = Field(default=None, title="The pot after, in grams")
    looked: bool = False
    more_than_book: bool = False
    confirmation: Note = Field(default="", title="How its condition is met")
    seen: Id | None = None
    step: Literal["add", "look"] = "add"

    sentences: ClassVar[Mapping[tuple[str, str], str]] = {}

    def asked(self, batch_id: int, zone: ZoneInfo) -> AddAsked:
        """What is asked of the book.

        Raises:
            Invalid: nothing is written where an amount belongs; the time makes no sense.
        """
        how = HOW_OF[self.way]
        if how is HowAdded.AMOUNT and self.amount is None:
            words = "Write how much you put in, such as 2 tsp."
            raise Invalid(words, {"amount": words})
        return AddAsked(
            once=self.once, batch_id=batch_id, how=how, amount=self.amount or "", before=self.before or "",
            after=self.after or "", code=self.code or "", material_id=self.material, looked=self.looked,
            more_than_book=self.more_than_book, confirmation=self.confirmation, **self.times(zone),
        )  # fmt: skip


@router.post("/{batch_id}/add")
def put_in(
    batch_id: Id, request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[AddForm], Depends(posted(AddForm))],
) -> Response:  # fmt: skip
    """One more addition, or a look at what it would change; what was typed stays until it is in the book."""
    form, more, status = p.value, {}, 422
    if form is not None:
        try:
            if form.step == "look":
                more, status = {"look": _look(data, now, actor, batch_id, form)}, 200
            else:
                return _add(request, data, now, actor, batch_id, form)
        except Invalid as wrong:
            p.take(wrong, "amount")
        except NotFound as missing:
            if not form.code:
                raise
            p.refuse("code", missing.sentence)
        except Stale as stale:
            # The page then shows what stands in the book by now; sending it again is a new act.
            p.raw["once"] = fresh_once()
            more, status = {"refused": stale.verdict, "stale": stale.sentence, "kept": _kept(p)}, 409
        except Refused as no:
            if not all(_answerable(one) for one in no.verdict):
                raise
            more, status = {"refused": no.verdict}, 409
    if way_of(p) is Way.MATERIAL and "code" in p.errors:
        p.errors["material"] = "Choose the material that went in."
        del p.errors["code"]
    with data.reading() as session:
        batch = seen_batch(session, actor, batch_id)
        return batch_page(request, session, actor, now, batch, p, status, **more)


def _answerable(finding: Finding) -> bool:
    """Whether the person can answer it on the form: a look, more than the book says, its condition."""
    return (
        finding.severity is not Severity.STOP
        or finding.code in ANSWERABLE
        or finding.code.startswith(NEVER_WITH)
    )


def _add(
    request: Request, data: Data, now: datetime, actor: Actor, batch_id: int, form: AddForm
) -> Response:
    with data.writing() as session:
        done = add(session, actor, now, form.asked(batch_id, shop_zone(session))).result
        mine = {one.get("id") for one in done["additions"]}
        parts = [
            amount_of_material(one["written"], one["material"])
            + (f" from {show_code(one['code'])}" if one["code"] else "")
            for one in done["additions"]
        ]
        told = [f["sentence"] for f in done.get("findings", []) if f["code"] in _TOLD]
        others = _meanwhile(session, actor, batch_id, form.seen, mine)
        flash(session, request, " ".join([f"You put in {', '.join(parts)}.", *told, *others]))
        return RedirectResponse(f"/bench/{batch_id}?way={form.way.value}", 303)


def _meanwhile(
    session: Session, actor: Actor, batch_id: int, seen: int | None, mine: set[Any]
) -> list[str]:
    """What somebody else put in since the page was opened on which this was typed."""
    if seen is None:
        return []
    return [
        f"Meanwhile {one.person.name} put in {amount_of_material(one.row.written, one.material.name)}."
        for one in additions_of(session, batch_id)
        if (one.row.id or 0) > seen
        and one.row.id not in mine
        and one.row.person_id != actor.person_id
        and not one.reversed
    ]


def _look(data: Data, now: datetime, actor: Actor, batch_id: int, form: AddForm) -> Any:
    with data.reading() as session:
        seen_batch(session, actor, batch_id)
        asked = form.asked(batch_id, shop_zone(session))
        today = shop_today(session, now)
        return view_change(change_if_added(session, actor, now, today, asked, shop_regime(session)))


def _kept(p: Posted[Any]) -> str:
    """What was typed, for the page of a batch that takes nothing any more."""
    names = ("code", "amount", "before", "after")
    return ", ".join(p.text(name) for name in names if p.text(name))


class UndoForm(FormModel):
    """Whether it was ever in the pot, and why it is taken back."""

    was_in: WasIn | None = Field(default=None, title="Was it ever in the pot?")
    reason: Sentence = Field(title="Why it is taken back")
    once: Once


@router.get("/{batch_id}/additions/{addition_id}")
def addition(
    batch_id: Id, addition_id: Id, request: Request, data: Data, now: Now, actor: Signed
) -> Response:
    """One addition: how it was measured, what it changed, and taking it back."""
    return _show(request, data, now, actor, (batch_id, addition_id), filled(once=fresh_once()))


@router.post("/{batch_id}/additions/{addition_id}/undo")
def undo(
    batch_id: Id, addition_id: Id, request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[UndoForm], Depends(posted(UndoForm))],
) -> Response:  # fmt: skip
    """Take it back by a reversal; what went in is not taken back, and the page says why."""
    form, numbers = p.value, (batch_id, addition_id)
    if form is not None:
        try:
            return _undo(request, data, now, actor, numbers, form)
        except Invalid as wrong:
            p.take(wrong, "was_in")
        except Refused as no:
            return _show(request, data, now, actor, numbers, p, 409, no.verdict)
    return _show(request, data, now, actor, numbers, p, 422)


def _undo(
    request: Request, data: Data, now: datetime, actor: Actor, numbers: tuple[int, int], form: UndoForm
) -> Response:
    with data.writing() as session:
        seen_batch(session, actor, numbers[0])
        asked = UndoAsked(form.once, *numbers, form.reason, form.was_in)
        done = undo_addition(session, actor, now, asked).result
        box = done["container"]
        left = [f"{box['words']} in {box['shown']} now."] if box else []
        stays = [f["sentence"] for f in done.get("findings", []) if f["code"] == "load-stays"]
        text = f"Took back {amount_of_material(done['written'], done['material'])}."
        flash(session, request, " ".join([text, *left, *stays]))
    return RedirectResponse(f"/bench/{numbers[0]}?undone={numbers[1]}", 303)


def _show(
    request: Request, data: Data, now: datetime, actor: Actor, numbers: tuple[int, int], p: Posted[Any],
    status: int = 200, refused: Verdict = NOTHING_AGAINST,
) -> Response:  # fmt: skip
    with data.reading() as session:
        batch = seen_batch(session, actor, numbers[0])
        one = the_addition(session, *numbers)
        regime, today = shop_regime(session), shop_today(session, now)
        changed = change_of_addition(session, *numbers, regime, today)
        undone = change_of_undo(session, *numbers, regime, today) if one.reversed else None
        running = batch.state is BatchState.RUNNING
        context = {
            "p": p,
            "batch": batch,
            "addition": one.row.id,
            "title": amount_of_material(one.row.written, one.material.name),
            "facts": _facts(session, one, shop_zone(session).key),
            "taken_back": one.reversed,
            "code": one.container.code if one.container else "",
            "together": len(changed.additions),
            "change": view_change(changed.change) if changed.change else None,
            "undone": view_change(undone) if undone else None,
            "refused": refused,
            "was_in": [(one.value, *words) for one, words in WAS_IN_WORDS.items()],
            "may_undo": running and may(actor.role, Permission.REVERSE_OWN_SOON),
            "verdict": judge_undo(session, actor, now, one, "a reason to come") if running else Verdict(),
            "load": one.movement.rag_load_id if one.movement else None,
        }
    return page(request, "bench/addition.html", context, status, section="bench")


def _facts(session: Session, one: Added, zone: str) -> list[tuple[Any, ...]]:
    how = HowAdded(one.row.how) if one.row.how in set(HowAdded) else None
    box = one.container
    facts: list[tuple[Any, ...]] = [
        ("How much", {"lines": amount_lines(session, one)}),
        ("Measured", HOW_WORDS[how] if how else "drawn at the start, as written"),
        ("From", {"href": f"/C/{box.code}", "words": show_code(box.code)} if box else "the tap"),
        ("Put in by", one.person.name),
        ("When", instant(one.row.added_at, zone)),
    ]
    if (pot := pot_words(one)) is not None:
        facts.append(("The pot weighed", pot))
    return facts
