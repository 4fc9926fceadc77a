"""The two clocks: end of use plus grace; the earlier of job, shift and 24:00 of the local day."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.core.rag_deadlines import GRACE_LABEL, clocks, day_end, in_order
from service.core.rag_profile import STRICT, RuleSubject
from service.core.rags import RagItem

PARIS = ZoneInfo("Europe/Paris")
# Zones with odd clocks: midnight skipped or doubled, half-hour shifts, a day left out, far offsets.
ZONES = [
    "Europe/Paris",
    "America/Chicago",
    "America/Santiago",
    "Africa/Cairo",
    "America/Havana",
    "Asia/Beirut",
    "America/St_Johns",
    "Australia/Lord_Howe",
    "Pacific/Apia",
    "Asia/Kathmandu",
    "America/Sao_Paulo",
    "Pacific/Kiritimati",
    "Asia/Amman",
    "UTC",
    "Africa/Casablanca",
    "America/Asuncion",
]
instants = st.integers(0, 126 * 365 * 86_400).map(
    lambda s: datetime(1975, 1, 1, tzinfo=UTC) + timedelta(seconds=s)
)


def local(zone: ZoneInfo, *parts: int, fold: int = 0) -> datetime:
    year, month, day, hour, minute = (*parts, 0, 0)[:5]
    return datetime(year, month, day, hour, minute, tzinfo=zone, fold=fold)


def test_contain_at_the_end_of_use_and_remove_at_the_end_of_the_shift() -> None:
    due = clocks(
        used_until=local(PARIS, 2026, 3, 10, 10),
        job_ends=local(PARIS, 2026, 3, 10, 18),
        shift_ends=local(PARIS, 2026, 3, 10, 16),
        zone=PARIS,
    )
    assert due.contain_by == datetime(2026, 3, 10, 9, tzinfo=UTC)
    assert due.remove_by == datetime(2026, 3, 10, 15, tzinfo=UTC)


def test_the_end_of_the_job_counts_when_it_is_earlier() -> None:
    due = clocks(
        used_until=local(PARIS, 2026, 3, 10, 10),
        job_ends=local(PARIS, 2026, 3, 10, 12),
        shift_ends=local(PARIS, 2026, 3, 10, 16),
        zone=PARIS,
    )
    assert due.remove_by == local(PARIS, 2026, 3, 10, 12)
    assert "job comes first" in next(b for b in due.because if b.clock is RuleSubject.REMOVE).reading


@pytest.mark.parametrize("hour", [0, 9, 23])
def test_a_night_shift_ends_at_24_of_the_day_of_use_never_24_hours_later(hour: int) -> None:
    used = local(PARIS, 2026, 3, 10, hour, 50)
    due = clocks(
        used_until=used,
        job_ends=used + timedelta(hours=40),
        shift_ends=used + timedelta(hours=30),
        zone=PARIS,
    )
    assert due.remove_by == local(PARIS, 2026, 3, 11, 0)


def test_work_over_midnight_is_due_at_24_of_the_day_the_load_was_made() -> None:
    made, used = local(PARIS, 2026, 3, 10, 22), local(PARIS, 2026, 3, 11, 0, 30)
    due = clocks(used_until=used, job_ends=used, shift_ends=None, zone=PARIS, made_at=made)
    assert due.remove_by == local(PARIS, 2026, 3, 11, 0)
    assert due.contain_by == used


def test_a_grace_moves_contain_only_and_is_labelled_as_the_shops_own() -> None:
    used = local(PARIS, 2026, 3, 10, 10)
    plain = clocks(used_until=used, job_ends=None, shift_ends=None, zone=PARIS)
    due = clocks(used_until=used, job_ends=None, shift_ends=None, zone=PARIS, grace_min=15)
    assert due.contain_by - plain.contain_by == timedelta(minutes=15)
    assert due.remove_by == plain.remove_by
    assert GRACE_LABEL in [b.citation for b in due.because]
    assert GRACE_LABEL not in [b.citation for b in plain.because]
    assert GRACE_LABEL == "this shop's own, no rule gives minutes"


@pytest.mark.parametrize("grace", [-1, 1441])
def test_a_grace_out_of_range_is_refused(grace: int) -> None:
    with pytest.raises(ValueError):
        clocks(
            used_until=local(PARIS, 2026, 3, 10, 10),
            job_ends=None,
            shift_ends=None,
            zone=PARIS,
            grace_min=grace,
        )


def test_naive_instants_are_refused() -> None:
    with pytest.raises(ValueError):
        clocks(used_until=datetime(2026, 3, 10, 10), job_ends=None, shift_ends=None, zone=PARIS)  # noqa: DTZ001


@pytest.mark.parametrize("item", list(RagItem))
def test_every_item_has_its_reasons_for_both_clocks(item: RagItem) -> None:
    due = clocks(
        used_until=local(PARIS, 2026, 3, 10, 10), job_ends=None, shift_ends=None, zone=PARIS, item=item
    )
    assert {b.clock for b in due.because} == {RuleSubject.CONTAIN, RuleSubject.REMOVE}
    assert all(b.citation and b.reading and b.profile == STRICT.key for b in due.because)


# Expected instants worked by hand from the transitions in the IANA time zone database.
@pytest.mark.parametrize(
    ("zone", "used", "end"),
    [
        ("Europe/Paris", (2026, 3, 29, 0, 30), "2026-03-29T22:00:00+00:00"),  # 23-hour day
        ("Europe/Paris", (2026, 10, 25, 0, 30), "2026-10-25T23:00:00+00:00"),  # 25-hour day
        ("America/Santiago", (2026, 9, 5, 20, 0), "2026-09-06T04:00:00+00:00"),  # 24:00 becomes 01:00
        ("America/Santiago", (2026, 4, 4, 20, 0), "2026-04-05T04:00:00+00:00"),  # 24:00 becomes 23:00 first
        ("Africa/Cairo", (2026, 4, 23, 20, 0), "2026-04-23T22:00:00+00:00"),  # 24:00 becomes 01:00
        ("America/Havana", (2026, 10, 31, 20, 0), "2026-11-01T04:00:00+00:00"),  # midnight twice: the first
        ("Australia/Lord_Howe", (2026, 4, 5, 0, 30), "2026-04-05T13:30:00+00:00"),  # half-hour shift
        (
            "America/St_Johns",
            (2010, 11, 6, 20, 0),
            "2010-11-07T02:30:00+00:00",
        ),  # 00:01 back to 23:01: the first
        ("Pacific/Apia", (2011, 12, 29, 12, 0), "2011-12-30T10:00:00+00:00"),  # the 30th does not exist
    ],
)
def test_24_00_on_odd_days(zone: str, used: tuple[int, ...], end: str) -> None:
    where = ZoneInfo(zone)
    assert day_end(local(where, *used), where).isoformat() == end


@pytest.mark.parametrize("minute", [0, 1, 7, 14, 29, 44, 59])
@pytest.mark.parametrize(
    ("zone", "day", "end"),
    [
        ("America/Santiago", (2026, 9, 5), "2026-09-06T04:00:00+00:00"),
        ("Africa/Cairo", (2026, 4, 23), "2026-04-23T22:00:00+00:00"),
        ("America/St_Johns", (2010, 11, 6), "2010-11-07T02:30:00+00:00"),
        ("Pacific/Apia", (2011, 12, 29), "2011-12-30T10:00:00+00:00"),
        ("Asia/Pyongyang", (2018, 5, 4), "2018-05-04T15:00:00+00:00"),  # 23:30 becomes 24:00
    ],
)
def test_24_00_does_not_depend_on_the_minute_of_use(
    zone: str, day: tuple[int, ...], end: str, minute: int
) -> None:
    where = ZoneInfo(zone)
    assert day_end(local(where, *day, 20, minute), where).isoformat() == end


def test_in_the_second_pass_of_a_doubled_hour_before_midnight_the_day_still_ends() -> None:
    where = ZoneInfo("America/St_Johns")
    second_pass = local(where, 2010, 11, 6, 23, 30, fold=1)
    assert day_end(second_pass, where) == datetime(2010, 11, 7, 3, 30, tzinfo=UTC)


@settings(max_examples=300, deadline=None)
@given(instant=instants, zone=st.sampled_from(ZONES))
def test_24_00_is_after_the_instant_and_the_whole_stretch_has_that_local_date(
    instant: datetime, zone: str
) -> None:
    where = ZoneInfo(zone)
    end = day_end(instant, where)
    day = instant.astimezone(where).date()
    assert instant < end <= instant + timedelta(hours=26)
    assert end.astimezone(where).date() > day
    steps = int((end - instant) / timedelta(minutes=7))
    seen = {(instant + n * timedelta(minutes=7)).astimezone(where).date() for n in range(steps)}
    assert seen | {(end - timedelta(microseconds=1)).astimezone(where).date()} == {day}


@settings(max_examples=200, deadline=None)
@given(
    used=instants,
    zone=st.sampled_from(ZONES),
    grace=st.integers(0, 1440),
    shift=st.none() | st.integers(-600, 6000),
    job=st.none() | st.integers(-600, 6000),
)
def test_remove_by_is_never_later_than_24_00_nor_the_shift_nor_the_job(
    used: datetime, zone: str, grace: int, shift: int | None, job: int | None
) -> None:
    where = ZoneInfo(zone)
    ends = [used + timedelta(minutes=m) if m is not None else None for m in (shift, job)]
    due = clocks(used_until=used, shift_ends=ends[0], job_ends=ends[1], zone=where, grace_min=grace)
    day = used.astimezone(where).date()
    assert (due.remove_by - timedelta(microseconds=1)).astimezone(where).date() <= day
    assert all(due.remove_by <= e for e in ends if e is not None)
    assert due.contain_by - used == timedelta(minutes=grace)
    assert due.remove_by in {day_end(used, where), *ends}


def test_a_load_is_put_away_no_later_than_it_is_out_of_the_building() -> None:
    made, used = local(PARIS, 2026, 3, 10, 22), local(PARIS, 2026, 3, 11, 1, 49)
    read = clocks(used_until=used, job_ends=used, shift_ends=None, zone=PARIS, made_at=made)
    due = in_order(read)
    assert due.contain_by == due.remove_by == read.remove_by == local(PARIS, 2026, 3, 11, 0)
    assert "out of the building before" in due.because[-1].reading
    early = clocks(used_until=made, job_ends=used, shift_ends=None, zone=PARIS, grace_min=15)
    assert in_order(early) == early
