"""The end of a batch: what it made, the jars it was filled into, and what is not explained.

A jar of a made mix is a container like any other; it inherits the dates, lots, hazards and the self-heating
mark of everything that went in, so a new jar never starts a new life.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from sqlmodel import Session

from service.actions.add_to_batch import running
from service.actions.addition_amounts import amount_of
from service.actions.fill_jars import JarAsked, fill, the_mix
from service.actions.give_codes import Chance
from service.actions.hold_back import let_go
from service.actions.judge_yield import not_more_than_went_in
from service.actions.met_in_pot import judge_jars
from service.actions.rag_duty import use_went_on
from service.actions.read_amount import densities_of, read_amount
from service.actions.settle import Act, Sent, Settled, settle
from service.actions.store_gate import Change, judge_change, refuse_or_owe
from service.actions.what_went_in import stuff_of
from service.core.access import Actor, Permission, require
from service.core.as_made import MadeLine, volume_of_line
from service.core.batch import BatchBalance, Part, balance
from service.core.containers import AmountKnown
from service.core.findings import Invalid, Refused, Verdict, stop, unknown
from service.core.ledger import MovementKind
from service.core.materials import Basis, Form
from service.core.pot_waste import NAME_THE_DRUM, POT_WENT, REST_NOT_TOLD, PotWentTo, note_of, rest_not_told
from service.records.job_queries import the_job
from service.records.material_queries import counts_self_heating
from service.records.materials import Material
from service.records.mixing import Batch, BatchState
from service.records.mixing_queries import Added, additions_of, jars_of, returns_of, the_recipe
from service.records.pot_waste import nobody_said_where
from service.records.stock import Container
from service.records.stock_queries import container_by_code, movements_of

MOST_JARS = 60
YIELD_HOW: Final = {"measured": "measured", "estimated": "estimated by eye"}


@dataclass(frozen=True, kw_only=True)
class FinishAsked:
    """The end of a batch.

    Args:
        made: how much it made in all, as written; empty = what is in the jars, or not measured.
        yield_how: "measured" or "estimated"; empty = nobody said.
        jars: the jars filled from it; none where all of it was used straight away.
        loss_note: where the rest went (pot, strainer, sample, spill).
        loss: how much of it stayed in pot, strainer and rags, as written; empty = not measured.
        went_to: where the rest went; None = nobody said, and it is waste.
        strained: whether it went through a strainer; None = nobody said.
        stir_note: what to know when stirring it, in the maker's words.
        form: how the mix lies in a jar; asked once, when the recipe's first jar is filled.
        confirmation: how the condition of what is otherwise never put together is met, in a sentence.
    """

    once: str
    batch_id: int
    made: str = ""
    yield_how: str = ""
    jars: tuple[JarAsked, ...] = ()
    loss_note: str = ""
    loss: str = ""
    went_to: PotWentTo | None = None
    strained: bool | None = None
    stir_note: str = ""
    form: Form | None = None
    happened_at: datetime | None = None
    already_done: bool = False
    late_reason: str = ""
    confirmation: str = ""

    def body(self) -> dict[str, Any]:
        return {
            "batch": self.batch_id,
            "made": self.made,
            "jars": [[jar.amount, jar.place_id, jar.capacity, jar.note] for jar in self.jars],
            "loss_note": self.loss_note,
            "yield_how": self.yield_how,
            "loss": self.loss,
            "strained": self.strained,
            "stir_note": self.stir_note,
            "form": self.form.value if self.form else None,
            "happened_at": self.happened_at.isoformat() if self.happened_at else None,
            "already_done": self.already_done,
            **({"confirmation": self.confirmation} if self.confirmation else {}),
            **({"went_to": self.went_to.value} if self.went_to else {}),
        }


def finish(session: Session, actor: Actor, now: datetime, asked: FinishAsked, chance: Chance) -> Settled:
    """Finish a running batch and take its jars into the store.

    Args:
        chance: gives a fresh unguessable text; the codes of the jars are made of it.

    Raises:
        Stale: the batch is not running.
        Ambiguous, CannotMeet, Invalid: an amount cannot be used, or more would have come out than went in;
            `errors` names ``made``, ``loss`` or ``jar_0`` ....
        Refused: jars were filled, but nothing is written down that went in; or they would stand over a
            storage limit. What has happened is recorded, and owes a move.
    """
    require(actor, Permission.BATCHES)
    sent = Sent(
        asked.once, "finish-batch", asked.body(), asked.happened_at, asked.already_done, asked.late_reason
    )
    return settle(session, actor, sent, now, lambda act: _finish(act, asked, chance))


def _finish(act: Act, asked: FinishAsked, chance: Chance) -> dict[str, Any]:
    batch = running(act.session, asked.batch_id)
    recipe = the_recipe(act.session, batch.recipe_id, lock=True)
    if len(asked.jars) > MOST_JARS:
        raise Invalid(f"Enter at most {MOST_JARS} jars.")
    went_in = [one for one in additions_of(act.session, asked.batch_id) if not one.reversed]
    if asked.jars and not went_in:
        sentence = "Nothing is written down that went into it. Add what went in first."
        raise Refused(Verdict.of([stop("nothing-went-in", sentence)]))
    if asked.jars:
        judge_jars(act, batch, asked.confirmation)
    jars: list[dict[str, Any]] = []
    if asked.jars or asked.made.strip() or asked.loss.strip():
        mix = the_mix(act, recipe, went_in, asked.batch_id, asked.form)
        jars = fill(act, batch, mix, went_in, asked.jars, chance)
        _within_limits(act, batch, mix, jars)
        _note_yield(act, batch, mix, asked, jars)
        if batch.yield_amount is not None and batch.yield_basis is not None:
            not_more_than_went_in(
                act.session, asked.batch_id, batch.yield_amount, batch.yield_basis,
                "made" if asked.made.strip() else "jar_0", estimated=batch.yield_how == "estimated",
            )  # fmt: skip
        _note_loss(act, batch, mix, asked)
    batch.strained, batch.stir_note = asked.strained, asked.stir_note.strip()[:500] or None
    batch.state, batch.finished_at = BatchState.FINISHED, act.happened_at
    if asked.went_to is PotWentTo.WASTE_DRUM:
        act.note(unknown("waste-in-no-drum", NAME_THE_DRUM))
    batch.loss_note = note_of(asked.loss_note, POT_WENT[asked.went_to] if asked.went_to else "")
    let_go(act.session, asked.batch_id)
    batch.version += 1
    act.session.add(batch)
    act.session.flush()
    told = balance_of(act.session, batch)
    act.note(*told.findings)
    if nobody_said_where(act.session, batch.id):
        act.note(unknown(REST_NOT_TOLD, rest_not_told(asked.batch_id), about=f"batch {asked.batch_id}"))
    return {
        "batch": batch.id,
        "state": batch.state.value,
        "made": batch.yield_written,
        "made_how": batch.yield_how,
        "strained": batch.strained,
        "jars": jars,
        "balance": said(told),
        "rag_load": wiped_up(act, batch, went_in, f"batch {batch.id} finished"),
    }


def _within_limits(act: Act, batch: Batch, mix: Material, jars: Sequence[dict[str, Any]]) -> None:
    """Whether the new jars keep within the storage limits where they are to stand."""
    if not jars:
        return
    boxes = [container_by_code(act.session, str(jar["code"])) for jar in jars]
    change = Change(new=frozenset(box.id for box in boxes if box.id), finished=frozenset({batch.id or 0}))
    refuse_or_owe(act, judge_change(act.session, change), boxes, mix.name)


def wiped_up(act: Act, batch: Batch, went_in: Sequence[Added], what: str) -> int | None:
    """The end of a batch with oil in it leaves a pot and strainers to wipe: they join the load of its job.

    Returns the number of that load; None where nothing self-heating went in.
    """
    heats = any(counts_self_heating(act.session, one.material, one.container) for one in went_in)
    if not heats or batch.job_id is None:
        return None
    return use_went_on(act, the_job(act.session, batch.job_id), f"batch {batch.id}", what).id


def said(told: BatchBalance) -> dict[str, Any]:
    """A balance as plain data."""
    return {
        "went_in": list(told.went_in),
        "came_out": list(told.came_out),
        "difference": told.difference,
        "basis": told.basis.value if told.basis else None,
        "lost": told.lost,
        "lost_words": told.lost_words,
        "unexplained": told.unexplained,
        "sentence": told.sentence,
    }


def _note_yield(
    act: Act, batch: Batch, mix: Material, asked: FinishAsked, jars: list[dict[str, Any]]
) -> None:
    if asked.yield_how not in ("", *YIELD_HOW):
        words = "Say whether it was measured or estimated."
        raise Invalid(words, {"yield_how": words})
    in_jars = sum(int(jar["amount"]) for jar in jars)
    batch.yield_how = asked.yield_how or None
    if not asked.made.strip():
        if not jars:
            batch.yield_how = None
            return
        batch.yield_amount, batch.yield_basis = in_jars, mix.basis
        batch.yield_written = " + ".join(str(jar["written"]) for jar in jars)[:200]
        return
    read = read_amount(act.session, act.actor, mix, asked.made, "made")
    act.note(*read.findings)
    if read.known is AmountKnown.ESTIMATED:
        # "About" is an estimate, whatever else was ticked.
        batch.yield_how = "estimated"
    if read.high < in_jars:
        words = "More is in the jars than it made in all. Look at the amounts again."
        raise Invalid(words, {"made": words})
    batch.yield_amount, batch.yield_basis, batch.yield_written = read.low, read.basis, read.written[:200]


def _note_loss(act: Act, batch: Batch, mix: Material, asked: FinishAsked) -> None:
    if not asked.loss.strip():
        return
    read = read_amount(act.session, act.actor, mix, asked.loss, "loss")
    act.note(*read.findings)
    batch.loss_amount, batch.loss_basis = read.low, read.basis.value
    batch.loss_written = read.written[:200]


def balance_of(session: Session, batch: Batch) -> BatchBalance:
    """What went into a batch, what came out of it, and what is not explained."""
    assert batch.id is not None
    went_in, came_out = went_in_of(session, batch.id), came_back_of(session, batch.id)
    if batch.yield_basis is not None:
        came_out.append(part_of_mix(session, batch, batch.yield_amount, batch.yield_basis))
    elif came_out:
        # What was put back is not all that came out: how much it made is still not known.
        came_out.append(part_of_mix(session, batch, None, Basis.MASS))
    lost = None
    if batch.loss_basis is not None:
        lost = part_of_mix(session, batch, batch.loss_amount, Basis(batch.loss_basis))
    return balance(went_in, came_out, loss_explained=bool(batch.loss_note), loss=lost)


def went_in_of(session: Session, batch_id: int) -> list[Part]:
    """The additions of a batch that stand, as parts of its balance."""
    return [
        _part(one.material, amount_of(session, one), one.row.basis)
        for one in additions_of(session, batch_id)
        if not one.reversed
    ]


def came_back_of(session: Session, batch_id: int) -> list[Part]:
    """What was put back from a batch into containers."""
    return [_part(material, m.change, material.basis) for m, material in returns_of(session, batch_id)]


def part_of_mix(session: Session, batch: Batch, amount: int | None, basis: Basis) -> Part:
    """So much of what a batch made, with the density that somebody wrote down of the mix."""
    recipe = the_recipe(session, batch.recipe_id)
    mix = session.get(Material, recipe.material_id) if recipe.material_id else None
    return Part(recipe.name, amount, basis, densities_of(mix).density_g_ml if mix else None)


def _part(material: Material, amount: int | None, basis: Basis | None) -> Part:
    known = densities_of(material)
    density = known.density_g_ml
    if material.form in (Form.POWDER, Form.SOLID):
        loose = known.bulk_g_ml
        density = loose[0] if loose and loose[0] == loose[1] else None
    basis = basis or Basis.MASS
    room = None
    if amount is not None:
        room = volume_of_line(MadeLine(material.id or 0, basis, amount), stuff_of(material))
    return Part(material.name, amount, basis, density, room)


def jars_held(session: Session, batch_id: int) -> list[tuple[Container, int | None]]:
    """The jars of a batch with what was filled into each."""
    found = []
    for box in jars_of(session, batch_id):
        made = [m for m in movements_of(session, box.id or 0) if m.kind is MovementKind.MADE]
        found.append((box, made[0].change if made else None))
    return [(box, amount) for box, amount in found if amount is not None]
