"""The balance of a batch as its finish form is filled in now; nothing is booked."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from sqlmodel import Session

from service.actions.fill_jars import jar_amount
from service.actions.finish_batch import FinishAsked, came_back_of, went_in_of
from service.actions.judge_yield import not_more_than_went_in
from service.actions.read_amount import ReadAmount, densities_of, read_amount
from service.core.access import Actor, Permission, require
from service.core.batch import BatchBalance, Part, balance
from service.core.containers import AmountKnown
from service.core.findings import Invalid
from service.core.materials import Form, MaterialKind
from service.records.materials import Material
from service.records.mixing_queries import the_batch, the_recipe


def look_at_finish(session: Session, actor: Actor, now: datetime, asked: FinishAsked) -> BatchBalance:
    """What the balance would say if the batch were finished with these amounts.

    Raises:
        Ambiguous, CannotMeet, Invalid: as `finish` does.
    """
    require(actor, Permission.BATCHES)
    batch = the_batch(session, asked.batch_id)
    recipe = the_recipe(session, batch.recipe_id)
    mix = session.get(Material, recipe.material_id) if recipe.material_id else None
    if mix is None:
        # Not in the session: it is made when the first jar is really filled.
        form = asked.form or Form.LIQUID
        mix = Material(name=recipe.name, kind=MaterialKind.MADE_MIX, form=form, created_at=now)
    density = densities_of(mix).density_g_ml
    came_out = came_back_of(session, asked.batch_id)
    with session.no_autoflush:
        jars = [jar_amount(session, actor, mix, jar, at) for at, jar in enumerate(asked.jars)]
        made = read_amount(session, actor, mix, asked.made, "made") if asked.made.strip() else None
        lost = read_amount(session, actor, mix, asked.loss, "loss") if asked.loss.strip() else None
    _can_have_come_out(session, asked, jars, made)
    if made is not None:
        if jars and {jar.basis for jar in jars} == {made.basis} and made.high < sum(j.low for j in jars):
            words = "More is in the jars than it made in all. Look at the amounts again."
            raise Invalid(words, {"made": words})
        came_out.append(Part(recipe.name, made.low, made.basis, density))
    else:
        came_out += [Part(recipe.name, jar.low, jar.basis, density) for jar in jars]
    loss = Part(recipe.name, lost.low, lost.basis, density) if lost else None
    explained = bool(asked.loss_note.strip() or asked.went_to)
    return balance(went_in_of(session, asked.batch_id), came_out, loss_explained=explained, loss=loss)


def _can_have_come_out(
    session: Session, asked: FinishAsked, jars: Sequence[ReadAmount], made: ReadAmount | None
) -> None:
    told = [made] if made is not None else list(jars)
    if len({one.basis for one in told}) != 1:
        return
    by_eye = asked.yield_how == "estimated" or (made is not None and made.known is AmountKnown.ESTIMATED)
    field = "made" if made is not None else "jar_0"
    amount, basis = sum(one.low for one in told), told[0].basis
    not_more_than_went_in(session, asked.batch_id, amount, basis, field, estimated=by_eye)
