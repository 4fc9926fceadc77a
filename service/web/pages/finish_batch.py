"""`/bench/{id}/finish` and `/give-up`: what a batch made, jar by jar, or why it was given up."""

import re
from collections.abc import Mapping
from typing import Annotated, Any, ClassVar, Literal

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field
from sqlmodel import Session

from service.actions.after_use import after_use
from service.actions.drop_batch import GiveUpAsked, give_up
from service.actions.fill_jars import JarAsked
from service.actions.finish_batch import MOST_JARS, FinishAsked, balance_of, finish
from service.actions.judge_never_with import conditions
from service.actions.look_at_finish import look_at_finish
from service.actions.met_in_pot import after_batch, not_into_a_jar
from service.actions.mixes_inside import what_is_in_batch
from service.actions.tell_rest import RestAsked, tell_rest
from service.core.batch import BatchBalance
from service.core.findings import Invalid, Refused, Verdict
from service.core.ledger import Destination
from service.core.materials import Form
from service.core.pot_waste import (
    NAME_THE_DRUM,
    NO_WASTE,
    POT_WENT,
    REST_NOT_TOLD,
    PotWentTo,
    rest_not_told,
)
from service.records.material_search import active_places
from service.records.mixing import BatchState
from service.records.mixing_queries import the_batch, the_recipe
from service.records.places import NO_STOCK
from service.records.pot_waste import nobody_said_where
from service.web.access_gate import Signed
from service.web.batch_words import unexplained_words
from service.web.chrome import flash
from service.web.deps import Data, Now, Secrets, shop_zone
from service.web.fields import Id, Note, Once, Sentence, WrittenAmount
from service.web.forms import FormModel, Posted, filled, posted
from service.web.pages.recipes import fresh_once
from service.web.render import page
from service.web.when_done import WHEN_CHOICES, WhenDone

router = APIRouter(prefix="/bench", include_in_schema=False)

FORMS = [("liquid", "A liquid", "Counted by volume or weight"), ("paste", "A paste", "Counted by weight")]
MEASURED = [("measured", "Measured", "On a scale or in a measure"), ("estimated", "Estimated", "By eye")]
DESTINATIONS = [(str(one), words[0].upper() + words[1:]) for one, words in POT_WENT.items()]
STRAINED = [("yes", "Yes", "With oil in it the strainer joins the rags"), ("no", "No", "")]


class FinishForm(WhenDone):
    """What it made; the jars are read by their numbers."""

    made: WrittenAmount | None = Field(default=None, title="How much it made in all")
    yield_how: Literal["measured", "estimated"] | None = Field(default=None, title="How do you know?")
    loss: WrittenAmount | None = Field(default=None, title="How much stayed in pot and strainer")
    went_to: PotWentTo | None = Field(default=None, title="Where did the rest go?")
    loss_note: Note = Field(default="", title="More about the rest")
    strained: Literal["yes", "no"] | None = Field(default=None, title="Was it strained?")
    stir_note: Sentence | None = Field(default=None, title="How it is to be stirred")
    form: Literal["liquid", "paste"] | None = Field(default=None, title="How it lies in the jar")
    confirmation: Note = Field(default="", title="How the conditions are met")
    step: Annotated[str, Field(max_length=20)] = "read"


Posting = Annotated[Posted[FinishForm], Depends(posted(FinishForm))]


@router.get("/{batch_id}/finish")
def ask(batch_id: Id, request: Request, data: Data) -> Response:
    """Room for one jar, and a button for more."""
    p = filled(once=fresh_once(), when="about", form="liquid")
    _number(p, [{}])
    with data.reading() as session:
        return _page(request, session, batch_id, p)


@router.post("/{batch_id}/finish")
def end(
    batch_id: Id, request: Request, p: Posting, data: Data, now: Now, actor: Signed, secrets: Secrets
) -> Response:
    """Finish, or give the form back with room for another jar, or with the balance as it would be."""
    jars = _jars(p)
    if p.text("step") == "look":
        return _look(batch_id, request, p, data, now, actor, jars)
    if p.text("step") != "save":
        p.errors.clear()
        _number(p, [*jars, {}][:MOST_JARS])
        with data.reading() as session:
            return _page(request, session, batch_id, p)
    _number(p, jars or [{}])
    form = p.value
    if form is not None:
        try:
            with data.writing() as session:
                asked = _whole(batch_id, form, jars, form.times(shop_zone(session)))
                done = finish(session, actor, now, asked, secrets).result
                words = _still_open(_said(batch_id, done), done)
                flash(session, request, words, *(_labels(done) or _rags(done)))
                return RedirectResponse(f"/bench/{batch_id}", 303)
        except Refused as no:
            with data.reading() as session:
                return _page(request, session, batch_id, p, 409, refused=no.verdict)
        except Invalid as wrong:
            p.take(wrong, next(iter(wrong.errors), ""))
    with data.reading() as session:
        return _page(request, session, batch_id, p, 422)


def _look(
    batch_id: int, request: Request, p: Posting, data: Data, now: Now, actor: Signed,
    jars: list[dict[str, str]],
) -> Response:  # fmt: skip
    """The balance as the form stands; nothing is booked, and what was typed stays."""
    _number(p, jars or [{}])
    form = p.value
    with data.reading() as session:
        if form is None:
            return _page(request, session, batch_id, p, 422)
        try:
            told = look_at_finish(session, actor, now, _whole(batch_id, form, jars, {}))
        except Invalid as wrong:
            p.take(wrong, next(iter(wrong.errors), ""))
            return _page(request, session, batch_id, p, 422)
        return _page(request, session, batch_id, p, told=told)


def _whole(
    batch_id: int, form: FinishForm, jars: list[dict[str, str]], times: dict[str, Any]
) -> FinishAsked:
    return FinishAsked(
        once=form.once, batch_id=batch_id, made=form.made or "", yield_how=form.yield_how or "",
        loss=form.loss or "", loss_note=form.loss_note, stir_note=form.stir_note or "",
        went_to=form.went_to,
        strained=None if form.strained is None else form.strained == "yes",
        form=Form(form.form) if form.form else None,
        jars=tuple(_asked(jar, at) for at, jar in enumerate(jars)), confirmation=form.confirmation,
        **times,
    )  # fmt: skip


def _said(batch_id: int, done: dict[str, Any]) -> str:
    many = len(done["jars"])
    words = f"You finished batch {batch_id}."
    if many:
        words += f" {many} {'jar is' if many == 1 else 'jars are'} in the store."
    return words


def _still_open(words: str, done: dict[str, Any]) -> str:
    """What was done, and what nobody said yet of what is in no jar and no drum."""
    codes = {one["code"] for one in done["findings"]}
    loose = {"waste-in-no-drum": NAME_THE_DRUM, REST_NOT_TOLD: rest_not_told(int(done["batch"]))}
    return " ".join([words, *(sentence for code, sentence in loose.items() if code in codes)])


def _rags(done: dict[str, Any]) -> tuple[str, str]:
    return (f"/rags/{done['rag_load']}", "Put its rags away") if done["rag_load"] else ("", "")


def _labels(done: dict[str, Any]) -> tuple[str, str] | tuple[()]:
    if not done["jars"]:
        return ()
    codes = "&".join(f"c={jar['code']}" for jar in done["jars"][:20])
    return f"/labels/print?{codes}", "Print their labels"


def _jars(p: Posted[Any]) -> list[dict[str, str]]:
    found = (re.fullmatch(r"(?:jar|place|capacity)_([0-9]{1,3})", name) for name in p.raw)
    numbers = sorted({int(match[1]) for match in found if match})
    rows = [{part: p.text(f"{part}_{n}").strip() for part in ("jar", "place", "capacity")} for n in numbers]
    return [row for row in rows if row["jar"] or row["capacity"]][:MOST_JARS]


def _asked(jar: dict[str, str], at: int) -> JarAsked:
    place = jar["place"]
    if place and not re.fullmatch(r"[0-9]{1,9}", place):
        words = "Choose one of the places."
        raise Invalid(words, {f"place_{at}": words})
    if len(jar["jar"]) > 200 or len(jar["capacity"]) > 60:
        words = "Keep the amount of a jar short, such as 250 ml."
        raise Invalid(words, {f"jar_{at}": words})
    return JarAsked(jar["jar"], int(place) if place else None, jar["capacity"])


def _number(p: Posted[Any], jars: list[dict[str, str]]) -> None:
    for name in [n for n in p.raw if re.fullmatch(r"(jar|place|capacity)_[0-9]+", n)]:
        del p.raw[name]
    for at, jar in enumerate(jars):
        for part in ("jar", "place", "capacity"):
            p.raw[f"{part}_{at}"] = jar.get(part, "")
    p.raw["jars"] = str(len(jars))


def _page(
    request: Request, session: Session, batch_id: int, p: Posted[Any], status: int = 200,
    told: BatchBalance | None = None, refused: Verdict | None = None,
) -> Response:  # fmt: skip
    """``told``: the balance of what was typed; without one the form shows what went in so far.

    ``refused``: why nothing was booked; without one what stands against jars is said beforehand.
    """
    batch = the_batch(session, batch_id)
    recipe = the_recipe(session, batch.recipe_id)
    now_in = balance_of(session, batch) if batch.state is BatchState.RUNNING else None
    lines = what_is_in_batch(session, batch_id)
    count = int(p.text("jars") or 1)
    no_jar = not_into_a_jar(session, batch_id)
    context = {
        "p": p,
        "batch": batch,
        "refused": refused,
        "no_jar": None if refused else no_jar,
        "conditions": conditions(no_jar),
        "recipe": recipe,
        "numbers": list(range(count)),
        "full": count >= MOST_JARS,
        "places": [(place.id, place.name) for place in active_places(session) if place.kind not in NO_STOCK],
        "went_in": list(now_in.went_in) if now_in else [],
        "told": told,
        "unexplained": unexplained_words(told) if told else "",
        "verdict": Verdict.of(told.findings) if told else None,
        "measured": MEASURED,
        "strained": STRAINED, "destinations": DESTINATIONS,
        "after": after_batch(session, batch_id, after_use(session, lines)),
        "forms": [] if recipe.material_id else FORMS,
        "when": WHEN_CHOICES,
    }
    return page(request, "bench/finish.html", context, status, section="bench")


class GiveUpForm(FormModel):
    """Why, and where it went."""

    reason: Sentence = Field(title="Why is it given up?")
    went_to: Destination | None = Field(default=None, title="Where did what was mixed go?")
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {
        ("reason", "missing"): "Say in a few words why the batch is given up.",
        ("went_to", "enum"): "Choose from the list where what was mixed went.",
    }


@router.get("/{batch_id}/give-up")
def ask_why(batch_id: Id, request: Request, data: Data) -> Response:
    """What is owed stays owed."""
    with data.reading() as session:
        return _give_up_page(request, session, batch_id, filled(once=fresh_once()))


@router.post("/{batch_id}/give-up")
def drop(
    batch_id: Id, request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[GiveUpForm], Depends(posted(GiveUpForm))],
) -> Response:  # fmt: skip
    """Give a running batch up."""
    form = p.value
    if form is not None:
        try:
            with data.writing() as session:
                asked = GiveUpAsked(
                    once=form.once, batch_id=batch_id, reason=form.reason, went_to=form.went_to
                )
                done = give_up(session, actor, now, asked).result
                words = f"You gave up batch {batch_id}. Its rags stay owed."
                if done["rag_load"]:
                    words = f"You gave up batch {batch_id}. Pot, rags and what was wiped up: put them away."
                flash(session, request, _still_open(words, done), *_rags(done))
                return RedirectResponse(f"/bench/{batch_id}", 303)
        except Invalid as wrong:
            p.take(wrong, next(iter(wrong.errors), ""))
    with data.reading() as session:
        return _give_up_page(request, session, batch_id, p, 422)


def _give_up_page(
    request: Request, session: Session, batch_id: int, p: Posted[Any], status: int = 200
) -> Response:
    batch = the_batch(session, batch_id)
    context = {
        "p": p,
        "batch": batch,
        "name": the_recipe(session, batch.recipe_id).name,
        "destinations": [one for one in DESTINATIONS if one[0] not in NO_WASTE],
    }
    return page(request, "bench/give_up.html", context, status, section="bench")


class RestForm(FormModel):
    """Where what is in no jar went."""

    went_to: PotWentTo | None = Field(default=None, title="Where did the rest go?")
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {
        ("went_to", "enum"): "Choose from the list where the rest went.",
    }


@router.get("/{batch_id}/rest")
def ask_rest(batch_id: Id, request: Request, data: Data) -> Response:
    """Where what an ended batch left in no jar went."""
    with data.reading() as session:
        return _rest_page(request, session, batch_id, filled(once=fresh_once()))


@router.post("/{batch_id}/rest")
def keep_rest(
    batch_id: Id, request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[RestForm], Depends(posted(RestForm))],
) -> Response:  # fmt: skip
    """Write it down."""
    if p.value is not None:
        try:
            with data.writing() as session:
                asked = RestAsked(p.value.once, batch_id, p.value.went_to)
                done = tell_rest(session, actor, now, asked).result
                words = f"Where the rest of batch {batch_id} went: {done['went_to']}."
                flash(session, request, _still_open(words, done))
                return RedirectResponse(f"/bench/{batch_id}", 303)
        except Invalid as wrong:
            p.take(wrong, next(iter(wrong.errors), ""))
    with data.reading() as session:
        return _rest_page(request, session, batch_id, p, 422)


def _rest_page(
    request: Request, session: Session, batch_id: int, p: Posted[Any], status: int = 200
) -> Response:
    batch = the_batch(session, batch_id)
    context = {
        "p": p, "batch": batch, "name": the_recipe(session, batch.recipe_id).name,
        "told": batch.loss_note, "destinations": DESTINATIONS,
        "open": bool(nobody_said_where(session, batch_id)),
    }  # fmt: skip
    return page(request, "bench/rest.html", context, status, section="bench")
