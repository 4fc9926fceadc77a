"""Whether what comes in, is moved or is filled keeps within the storage limits, and what is owed if not.

The act is written first and judged in the same transaction: before an act the program refuses, and nothing
of it stays. What has happened is recorded, and somebody owes a move.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from sqlmodel import Session

from service.actions.judge_store import Store, the_store
from service.actions.settle import Act
from service.core.findings import Finding, Refused, Severity, Verdict, note, unknown
from service.core.rag_deadlines import day_end
from service.core.shelf_codes import show_code
from service.core.storage_items import count_under
from service.core.storage_limits import NEAR_SHARE, about_row, is_near
from service.core.storage_rules import Scope
from service.core.store_changes import over_by
from service.core.store_limits import SUMS, Area, StoreJudged, placed
from service.core.store_pairs import about_pair
from service.core.store_unplaced import MAY_STAND
from service.records.duties import MOVE_DUTY, Duty
from service.records.stock import Container
from service.records.storage_queries import Otherwise

_MOST_PLACES: Final = 12
_SIZE: Final = frozenset({Scope.CONTAINER})


@dataclass(frozen=True)
class Change:
    """What an act did to the store: new containers, and where moved ones stood before.

    ``filled``: containers of the book that something was poured into. ``before``: the store as it stood, for
    an act that also took something out of another container. ``finished``: batches of whose pots it was.
    """

    new: frozenset[int] = frozenset()
    moved_from: Mapping[int, int | None] | None = None
    filled: frozenset[int] = frozenset()
    before: Store | None = None
    finished: frozenset[int] = frozenset()

    @property
    def containers(self) -> frozenset[int]:
        return self.new | self.filled | frozenset(self.moved_from or ())


def store_before(session: Session, containers: Iterable[int]) -> Store | None:
    """The store as it stands before an act pours from these; None where no table counts what is in them."""
    if not _counts(the_store(session, Otherwise(only=frozenset(containers)))):
        return None
    return the_store(session)


@dataclass(frozen=True)
class LookedAt:
    """What a change makes worse, and the looks at the store in which it stands."""

    verdict: Verdict
    looks: tuple[StoreJudged, ...] = ()

    def counted_in(self, finding: Finding) -> frozenset[tuple[int | None, int | None]]:
        """Material and place of all that counts in the row or pair that a finding is about."""
        names = {
            name for look in self.looks for area in look.areas
            for said, of in _said_of(area) if finding in said for name in of
        }  # fmt: skip
        return frozenset(
            (box.material_id, box.place_id)
            for look in self.looks for box in look.boxes if box.what.name in names
        )  # fmt: skip


def _said_of(area: Area) -> Iterator[tuple[tuple[Finding, ...], Sequence[str]]]:
    for row in area.rows:
        if row.met is False or is_near(row, NEAR_SHARE):
            yield tuple(about_row(row, NEAR_SHARE)), row.names
    for pair in area.pairs:
        yield tuple(about_pair(pair)), (*pair.of_a, *pair.of_b)


def judge_change(session: Session, change: Change) -> Verdict:
    """What a change that stands in the session makes worse, what that rests on, and where there is room.

    Empty for what no table counts. Stops are rows of law that were read, and pairs in one cabinet.
    """
    looked = look_at_change(session, change)
    if not looked.verdict.blocking:
        return looked.verdict
    places = {box.place_id for box in looked.looks[-1].boxes}
    room = where_else(session, change.containers, looked.looks[0], places, change.finished)
    loose = any(
        one.code == MAY_STAND and one.severity is Severity.UNKNOWN for one in looked.looks[1].verdict
    )
    return Verdict.of([*looked.verdict, _elsewhere(room, loose)])


def look_at_change(session: Session, change: Change) -> LookedAt:
    """As `judge_change`, without a place to put it; the looks are before, after, and at it alone."""
    session.flush()
    part = the_store(session, Otherwise(only=change.containers))
    if not _counts(part):
        return LookedAt(Verdict())
    earlier = change.before or the_store(
        session, Otherwise(without=change.new, moved=change.moved_from or {})
    )
    later = the_store(session, Otherwise(finished=change.finished))
    before, after, alone = earlier.judged(SUMS), later.judged(SUMS), part.judged(_SIZE)
    found = list(over_by(before, after))
    if change.new:
        found += [
            one for area in alone.areas for row in area.rows if row.met is False
            for one in about_row(row, NEAR_SHARE)
        ]  # fmt: skip
    if any(one.severity is Severity.STOP for one in found):
        found += _rests_on(part)
    return LookedAt(Verdict.of(found), (before, after, alone))


def _counts(part: Store) -> bool:
    """Whether any table counts anything of it, or something is kept apart from it."""
    return any(
        box.what.groups or any(count_under(box.what, one, None).categories for one in part.rule_sets)
        for box in part.boxes
    )


def _rests_on(part: Store) -> list[Finding]:
    """What is not known of the stuff itself: it may count more than it would if somebody wrote it down."""
    said: dict[str, Finding] = {}
    for box in part.boxes:
        item = placed(box, part.tree)
        for rule_set in part.rule_sets:
            for one in count_under(item, rule_set, None).findings:
                if one.severity is Severity.UNKNOWN:
                    words = f"{one.sentence} Once that is written down of the material, it may count less."
                    said.setdefault(one.code, unknown(one.code, words, one.source, one.about))
    return list(said.values())


def where_else(
    session: Session, containers: Iterable[int], before: StoreJudged, not_in: set[int | None],
    finished: frozenset[int] = frozenset(),
) -> list[str]:  # fmt: skip
    """Cabinets and rooms where these containers would make nothing worse, the cabinets first."""
    moving = sorted(containers)
    store = the_store(session, Otherwise(only=frozenset()))
    spots = [one for one in store.tree.spots.values() if one.kind in ("cabinet", "room")]
    spots.sort(key=lambda one: (one.kind != "cabinet", one.approved is not True, one.name.casefold()))
    found: list[str] = []
    for spot in [one for one in spots if one.id not in not_in][:_MOST_PLACES]:
        if store.tree.stands(spot.id).aside:
            continue
        moved = dict.fromkeys(moving, spot.id)
        there = the_store(session, Otherwise(moved=moved, finished=finished)).judged(SUMS)
        if not over_by(before, there).blocking:
            found.append(", ".join(one.name for one in store.tree.chain(spot.id)))
    return found[:3]


def _elsewhere(room: Sequence[str], loose: bool) -> Finding:
    if room:
        words = f"Within these rows there is room for it in: {'; '.join(room)}."
        if loose:
            words += " What stands nobody knows where is not counted in that, and may stand there."
    else:
        words = (
            "No cabinet or room of the book has room for it within these rows. Use something up or have it "
            "taken away first, or ask the fire code official."
        )
    return note("room-elsewhere", words)


def refuse_or_owe(act: Act, verdict: Verdict, boxes: Sequence[Container], name: str) -> None:
    """Before the act: refused with its reasons. After it: recorded, and somebody owes a move.

    Raises:
        Refused: it has not happened yet, and something stops it.
    """
    stops = [one for one in verdict if one.severity is Severity.STOP]
    if stops and not (act.already_done or act.posting.late):
        raise Refused(verdict)
    act.note(*verdict)
    if stops:
        owe_move(act, boxes, name, stops, "it had happened already")


def owe_move(
    act: Act, boxes: Sequence[Container], name: str, stops: Sequence[Finding], reason: str
) -> None:
    """Whoever brought it over a limit owes its move by the end of the shop's day: this house's own time."""
    if not boxes:
        return
    codes = ", ".join(show_code(box.code) for box in boxes[:4])
    more = f" and {len(boxes) - 4} more" if len(boxes) > 4 else ""
    words = f"Move {name} ({codes}{more}), which went over a storage limit: {reason.strip().rstrip('.')}. "
    act.session.add(
        Duty(
            kind=MOVE_DUTY,
            sentence=f"{words}{stops[0].sentence}"[:500],
            owed_by=act.actor.person_id,
            due_at=day_end(act.recorded_at, act.zone),
            about_kind="container",
            about_id=boxes[0].id,
            created_at=act.recorded_at,
        )
    )


def still_over(session: Session, container: Container) -> Verdict:
    """The rows of law that are over where a container stands now and that count it; empty: none."""
    store = the_store(session)
    names = {
        box.what.name for box in store.boxes
        if box.material_id == container.material_id and box.place_id == container.place_id
    }  # fmt: skip
    judged = store.judged()
    found = [
        one for area in judged.areas for row in area.rows if row.met is False and names & set(row.names)
        for one in about_row(row, NEAR_SHARE)
    ]  # fmt: skip
    return Verdict.of(one for one in found if one.severity is Severity.STOP)
