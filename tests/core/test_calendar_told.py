"""What a calendar told stays told, whatever happens to what it told."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from service.core.calendar_entries import DatedContainer, Entry, EntryKind, Window, of_container
from service.core.calendar_told import CANCELLED_FOR, Told, tell, tell_the_end
from service.core.months import add_days

AT = datetime(2028, 2, 28, 23, 30, tzinfo=UTC)
END = Entry(
    "container-5-end", EntryKind.END, date(2028, 2, 29), "Last day in date: R4F 34T umber", "", "/c", 9, AT
)


def kept(before: dict[str, Told], *changed: Told) -> dict[str, Told]:
    return before | {one.uid: one for one in changed}


def test_what_stands_no_more_is_cancelled_on_its_own_day_for_more_than_a_year() -> None:
    first = tell([END], {}, AT)
    assert first.entries == (END,)
    gone = tell([], kept({}, *first.changed), AT + timedelta(hours=1))
    (one,) = gone.entries
    assert (one.cancelled, one.sequence, one.day, one.title) == (True, 10, END.day, f"Cancelled: {END.title}")
    assert one.stamp > END.stamp and "look at its page" in one.text
    before = kept({}, *gone.changed)
    assert tell([], before, AT + timedelta(days=399)).entries == (one,)
    assert tell([], before, AT + timedelta(days=399)).changed == ()
    assert tell([], before, AT + CANCELLED_FOR + timedelta(hours=2)).entries == ()


def test_what_comes_back_has_a_higher_number_also_after_years() -> None:
    first = tell([END], {}, AT)
    gone = tell([], kept({}, *first.changed), AT + timedelta(days=1))
    back = tell([END], kept({}, *gone.changed), AT + timedelta(days=2000))
    (one,) = back.entries
    assert not one.cancelled and one.title == END.title and one.sequence > gone.entries[0].sequence
    assert one.stamp == AT + timedelta(days=2000)
    again = tell([END], kept({}, *back.changed), AT + timedelta(days=2001))
    assert again.entries == back.entries and again.changed == ()


def test_the_end_tells_no_title_and_a_right_that_comes_back_counts_on() -> None:
    first = tell([END], {}, AT)
    ended = tell_the_end(kept({}, *first.changed), AT + timedelta(days=1))
    (one,) = ended.entries
    assert (one.cancelled, one.title, one.page, one.sequence) == (True, "This calendar has ended", "/me", 10)
    before = kept({}, *ended.changed)
    assert tell_the_end(before, AT + timedelta(days=2)).changed == ()
    (back,) = tell([END], before, AT + timedelta(days=3)).entries
    assert not back.cancelled and back.sequence > one.sequence
    assert tell_the_end(before, AT + timedelta(days=500)).entries == ()
    assert tell_the_end({}, AT).entries == ()


UIDS = [f"container-{n}-{kind}" for n in (1, 2) for kind in ("look", "end")] + ["duty-7", "more"]
ENTRIES = st.builds(
    Entry,
    uid=st.sampled_from(UIDS),
    kind=st.sampled_from(EntryKind),
    day=st.integers(0, 800).map(lambda days: add_days(date(2028, 2, 29), days)),
    title=st.sampled_from(["Look first", "Discard"]),
    text=st.just(""),
    page=st.just("/alerts"),
    sequence=st.integers(0, 6),
    stamp=st.just(AT),
    cancelled=st.booleans(),
)
LOOKS = st.lists(ENTRIES, max_size=6, unique_by=lambda one: one.uid)
STORIES = st.lists(st.tuples(st.integers(0, 250), LOOKS, st.booleans()), max_size=12)


@settings(deadline=None)
@given(STORIES)
def test_no_number_ever_vanishes_within_a_year_of_its_last_date_or_goes_back(
    story: list[tuple[int, list[Entry], bool]],
) -> None:
    now, before = AT, dict[str, Told]()
    last: dict[str, Entry] = {}
    dated_at: dict[str, datetime] = {}
    for days, entries, ended in story:
        now += timedelta(days=days)
        # Numbers of the book grow; the story has them at random, so that the memory alone must see to it.
        made = tell_the_end(before, now) if ended else tell(entries, before, now)
        told = {one.uid: one for one in made.entries}
        assert len(told) == len(made.entries)
        for uid, at in dated_at.items():
            assert uid in told or now - at > timedelta(days=366), uid
        for uid, one in told.items():
            old = last.get(uid)
            if old is not None:
                assert one.sequence >= old.sequence and one.stamp >= old.stamp
                if (one.day, one.title, one.cancelled) != (old.day, old.title, old.cancelled):
                    assert one.sequence > old.sequence
            if not one.cancelled:
                dated_at[uid] = now
                assert not ended and replace(one, sequence=0, stamp=AT) in [
                    replace(other, sequence=0, stamp=AT) for other in entries
                ]
        last |= told
        before = kept(before, *made.changed)
        once_more = tell_the_end(before, now) if ended else tell(entries, before, now)
        assert once_more.changed == () and once_more.entries == made.entries


def test_what_a_look_ended_is_not_to_be_looked_at_before_use() -> None:
    today = date(2028, 2, 29)
    tin = DatedContainer(5, "R4F34T", "umber", "", today, add_days(today, 30), True, False, 1, AT)

    def told(one: DatedContainer) -> list[str]:
        return [entry.title.split(":")[0] for entry in of_container(one, Window.around(today))]

    assert told(tin) == ["Look first", "Check again by"]
    ended = replace(tin, in_date_until=add_days(today, -1), dead=True)
    assert told(ended) == ["Set it apart"]
    assert told(replace(ended, dead=False)) == ["Check again by"], "its end is before the day to look from"
    first = tell(of_container(tin, Window.around(today)), {}, AT)
    later = tell(of_container(ended, Window.around(today)), kept({}, *first.changed), AT + timedelta(hours=1))
    assert [(one.kind, one.cancelled) for one in later.entries if one.kind is EntryKind.LOOK] == [
        (EntryKind.LOOK, True)
    ]
