"""How a drum of waste is said on a page, in a call and in a file."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, tzinfo
from typing import Any, Final

from sqlmodel import Session

from service.actions.look_at_drums import DrumShown, HandOver, WasteRecord
from service.core.access import Actor, Permission, Role, may
from service.core.bench_writing import amount_as_written
from service.core.findings import Verdict
from service.core.materials import Basis, Unknown
from service.core.months import say_date
from service.core.waste import say_kg
from service.core.waste_drum_clocks import JudgedDrum
from service.core.waste_drums import AREA_WORDS, STEP_WORDS, Area, DrumState, DrumStep, Held
from service.core.waste_rules import CATEGORY_WORDS, Category, Jurisdiction
from service.records.drum_codes import codes_now, grouped
from service.records.waste_drum_queries import SeenDrum, SeenEntry, seen_drums
from service.web.render import day, instant

YES_NO: Final = [("yes", "Yes"), ("no", "No"), ("not-known", "Not known")]
AREAS: Final = [
    (Area.SATELLITE.value, "Satellite area, where the waste arises"),
    (Area.CENTRAL.value, "Central accumulation area", "Its time runs from the first waste."),
]
CATEGORIES: Final = [
    *((one.value, f"{one.value}, {words}") for one, words in CATEGORY_WORDS.items()),
    ("", "Not known", "The shortest time counts."),
]
ACUTE_WORDS: Final = {
    Unknown.YES: "yes", Unknown.NO: "no", Unknown.NOT_KNOWN: "not known, counted as acute",
}  # fmt: skip


def amounts(state: DrumState) -> str:
    """What is in a drum, mass and volume; not known is "at least".

    A drum of which nothing was measured holds "an amount nobody knows".
    """
    if state.first_on is None:
        return "empty"
    said = [text for text in (_held(state.mg, Basis.MASS), _held(state.ul, Basis.VOLUME)) if text]
    return ", ".join(said) or "an amount nobody knows"


def _held(held: Held, basis: Basis) -> str:
    if held.more and not held.known:
        return ""
    least = "at least " if held.more else ""
    return f"{least}{_amount(held.known, basis)}"


def _amount(smallest: int, basis: Basis) -> str:
    """Kilograms or litres; never less than it is.

    >>> _amount(1_500_000, Basis.MASS), _amount(208_197_649, Basis.VOLUME)
    ('1.5 kg', '208.198 l')
    """
    thousandths = -(-smallest // 1000)
    figure = f"{thousandths // 1000}.{thousandths % 1000:03}".rstrip("0").rstrip(".")
    return f"{figure} {'kg' if basis is Basis.MASS else 'l'}"


def due_words(one: JudgedDrum, today: date) -> str:
    """Until when it may stand, as a sentence begins."""
    if one.deadline is None:
        return "no rule read" if one.citation == "no rule read" else "no time runs"
    left = one.days_left(today) or 0
    if one.overdue:
        return f"had to leave by {say_date(one.deadline)}, {-left} {'day' if left == -1 else 'days'} too long"
    rest = "today is the last day" if left == 0 else f"{left} {'day' if left == 1 else 'days'} left"
    return f"leaves by {say_date(one.deadline)}, {rest}"


def citation_words(one: JudgedDrum) -> str:
    """The rule behind the clock with how we know it."""
    return f"{one.citation} ({one.grade})" if one.grade else one.citation or "none yet"


def area_words(state: DrumState) -> str:
    """Where it stands now."""
    return AREA_WORDS[Area.SATELLITE if state.in_satellite else Area.CENTRAL]


def card(shown: DrumShown, today: date) -> dict[str, Any]:
    """A drum that stands, for the list."""
    seen, judged = shown.seen, shown.judged
    left = judged.days_left(today)
    return {
        "id": seen.number, "name": seen.row.name, "stream": seen.row.stream, "late": judged.overdue,
        "near": left is not None and left <= 30, "due": due_words(judged, today),
        "started": say_date(judged.started) if judged.started else "",
        "area": area_words(seen.state), "place": seen.place or "no place told", "holds": amounts(seen.state),
        "cited": citation_words(judged), "closed": seen.state.closed_on is not None,
        "verdict": Verdict.of(judged.findings),
    }  # fmt: skip


def facts(seen: SeenDrum, judged: JudgedDrum | None, today: date) -> list[tuple[Any, ...]]:
    """What is known of one drum."""
    row, state = seen.row, seen.state
    rows: list[tuple[Any, ...]] = [
        ("Contents", row.stream), ("Hazards", row.hazards), ("In it", amounts(state)),
        ("Size", row.capacity_written or "not known"), ("Place", seen.place or "not told"),
        ("Acute waste", ACUTE_WORDS[row.acute]),
        ("First waste", say_date(state.first_on) if state.first_on else "none yet"),
    ]  # fmt: skip
    if judged is not None:
        rows += [
            ("Area", area_words(state)), ("Its time", due_words(judged, today)),
            ("By the rule", citation_words(judged)),
        ]  # fmt: skip
        if judged.started:
            rows.append(("Accumulation start date", say_date(judged.started)))
        if judged.excess_on:
            rows.append(("Over its amount since", say_date(judged.excess_on)))
    if state.closed_on:
        rows.append(("Full and closed on", say_date(state.closed_on)))
    return rows


def code_rows(seen: SeenDrum, law: Jurisdiction | None) -> list[dict[str, Any]]:
    """The codes of a drum with their word and how we know it."""
    return [
        {
            "code": one["code"] if one["applies"] else f"{one['code']} (not known, may apply)",
            "why": one["why"], "cited": f"{one['citation']}, {one['grade']}",
        }
        for one in grouped(codes_now(seen, law))
    ]  # fmt: skip


CODE_COLUMNS: Final = [
    {"key": "code", "label": "Code"}, {"key": "why", "label": "Why"}, {"key": "cited", "label": "Source"},
]  # fmt: skip
STORY_COLUMNS: Final = [
    {"key": "what", "label": "What happened"}, {"key": "on", "label": "Day", "number": True},
    {"key": "amount", "label": "How much"}, {"key": "by", "label": "Who"},
    {"key": "back", "label": "Take back"},
]  # fmt: skip


def story(seen: SeenDrum, actor: Actor, zone: tzinfo) -> list[dict[str, Any]]:
    """Every entry, the newest first; who may take one back sees the way."""
    gone = {one.row.reverses_id for one in seen.entries}
    found = []
    for one in reversed(seen.entries):
        row = one.row
        counts = row.step is not DrumStep.TAKEN_BACK and row.id not in gone and not one.undone
        own = row.person_id == actor.person_id and may(actor.role, Permission.DISCARD)
        back: Any = "" if row.step is DrumStep.TAKEN_BACK else "does not count any more"
        if counts:
            back = ""
            if actor.role is Role.KEEPER or (own and row.step in (DrumStep.PUT_IN, DrumStep.OVER)):
                back = {"href": f"/waste/drum-entries/{row.id}/take-back", "words": "Take it back"}
        late = f" Late entry: {row.late_reason}" if row.late else ""
        found.append({
            "what": {"lines": [STEP_WORDS[row.step], *_more(one)]}, "on": day(row.on_day),
            "amount": entry_amount(one), "by": f"{one.by}, {instant(row.recorded_at, str(zone))}.{late}",
            "back": back,
        })  # fmt: skip
    return found


def _more(one: SeenEntry) -> list[Any]:
    row = one.row
    lines: list[Any] = [row.what] if row.what else []
    if one.code:
        lines.append({"href": f"/containers/{one.code}", "words": f"{one.material} ({one.code})"})
    if row.load_id:
        words = f"Rag load {row.load_id}: its own times go on"
        lines.append({"href": f"/rags/{row.load_id}", "words": words})
    if row.receiver:
        lines += [f"To {row.receiver}", f"Carried by {row.transporter}", f"Paper: {row.paper or 'none told'}"]
    return [*lines, row.note] if row.note else lines


def entry_amount(one: SeenEntry) -> str:
    """What an entry says of mass and volume; "" where it says nothing of them."""
    if one.row.step not in (DrumStep.PUT_IN, DrumStep.WEIGHED, DrumStep.HANDED_OVER):
        return ""
    said = [
        _amount(amount, basis)
        for amount, basis in ((one.mg, Basis.MASS), (one.ul, Basis.VOLUME)) if amount is not None
    ]  # fmt: skip
    return ", ".join(said) or "not known"


def handed_row(one: HandOver) -> dict[str, Any]:
    """A hand-over for the list."""
    row = one.entry.row
    return {
        "name": {"href": f"/waste/drums/{one.seen.number}", "words": one.seen.row.name},
        "on": day(row.on_day), "to": row.receiver, "by": row.transporter, "paper": row.paper or "none told",
        "mass": entry_amount(one.entry),
    }  # fmt: skip


HANDED_COLUMNS: Final = [
    {"key": "name", "label": "Drum"}, {"key": "on", "label": "Day", "whole": True},
    {"key": "to", "label": "To"},
    {"key": "by", "label": "Carried by"}, {"key": "paper", "label": "Paper"},
    {"key": "mass", "label": "Weighed"},
]  # fmt: skip


def site_facts(record: WasteRecord) -> list[tuple[str, str]]:
    """What counts for the whole site."""
    if record.site is None:
        return [("Rules", "no rule read of this shop's law")]
    told = record.told.category
    least = "at least " if record.site.more else ""
    cap, miles = record.site.cap, record.told.haul_miles
    return [
        ("Category told", category_words(told)),
        ("Category that counts", category_words(record.site.category)),
        ("Way to the receiver", "not told" if miles is None else f"{miles} miles"),
        ("In drums here", f"{least}{say_kg(record.site.kg)} kg"),
        ("Most that may stand here", "no cap" if cap.cap_kg is None else f"{say_kg(cap.cap_kg)} kg"),
    ]  # fmt: skip


def category_words(category: Category | None) -> str:
    return f"{category.value}, {CATEGORY_WORDS[category]}" if category else "not known"


def loose_rows(record: WasteRecord, zone: tzinfo) -> list[tuple[int, str]]:
    """Discards into a waste drum of which nobody said which one, to choose from."""
    return [
        (one.movement_id, f"{one.material} ({one.code}), {day(one.happened_at.astimezone(zone).date())}, "
         f"{_change(one.change, one.basis)}")
        for one in record.in_no_drum
    ]  # fmt: skip


def _change(change: int | None, basis: Basis | None) -> str:
    if change is None or basis is None:
        return "amount not known"
    return amount_as_written(abs(change), basis)


def drum_choices(session: Session) -> list[tuple[int, str]]:
    """The drums that take something, to choose from."""
    return [
        (one.number, f"{one.row.name}: {one.row.stream}") for one in seen_drums(session)
        if one.state.standing and one.state.closed_on is None
    ]  # fmt: skip


def renamed(errors: Mapping[str, str], names: Mapping[str, str]) -> dict[str, str]:
    """Errors of an act under the names of the fields of one form."""
    return {names.get(key, key): words for key, words in errors.items()}
