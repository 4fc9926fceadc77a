"""Whether a batch can have made so much: never more than went into it, but for a slip of the measure."""

from __future__ import annotations

from sqlmodel import Session

from service.actions.change_of_addition import mass_of_lines, volume_of_lines
from service.actions.mix_of_materials import lines_of_batch
from service.core.batch import most_made
from service.core.findings import Invalid
from service.core.materials import Basis
from service.core.quantities import show_amount


def not_more_than_went_in(
    session: Session, batch_id: int, made: int, basis: Basis, field: str, *, estimated: bool
) -> None:
    """Nothing to say where how much went in is not known, or in pieces.

    Args:
        made: in smallest units of ``basis``.
        field: where the amount was typed.

    Raises:
        Invalid: more than went in, and what to write down first.
    """
    lines = lines_of_batch(session, batch_id)
    went_in = mass_of_lines(lines) if basis is Basis.MASS else volume_of_lines(lines)[0]
    if basis is Basis.PIECES or went_in is None or went_in.high is None:
        return
    if made > most_made(went_in.high, estimated=estimated):
        words = (
            f"{show_amount(made, basis)} cannot have come out: by the book at most "
            f"{show_amount(went_in.high, basis)} went in. Put in on the bench what is not written down yet, "
            "or look at the amount again."
        )
        raise Invalid(words, {field: words})
