"""Who is told what in the morning, and when: owners, keepers, quiet hours of the wall clock."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.alerts import Alert, AlertKind
from service.core.digest import (
    SWITCHABLE,
    Choice,
    Hearer,
    Quiet,
    always_told,
    morning_due,
    read_off,
    read_quiet,
    share_out,
)
from service.core.findings import Invalid, Severity

BERLIN = ZoneInfo("Europe/Berlin")
ORLA, RUTH, PIET, SANNE = 1, 2, 3, 4
SEVERITY = {
    AlertKind.PAST: Severity.STOP, AlertKind.DUTY_OVERDUE: Severity.STOP, AlertKind.CHANNEL: Severity.STOP,
    AlertKind.NOT_KNOWN: Severity.UNKNOWN, AlertKind.MISSING_FACT: Severity.UNKNOWN,
    AlertKind.SOON: Severity.NOTE,
}  # fmt: skip


def alert(kind: AlertKind, *people: int, ref: str = "", name: str = "x") -> Alert:
    severity = SEVERITY.get(kind, Severity.WARN)
    return Alert(kind, date(2026, 3, 2), severity, f"{name}.", name, "Do it.", "", ref, people)


def told(hearers: list[Hearer], *alerts: Alert) -> list[str]:
    """What each hearer is told, by the first letters of the alerts."""
    return ["".join(one.about for one in share.told) for share in share_out(hearers, alerts)]


def test_each_what_they_own_and_keepers_what_nobody_else_is_told_of() -> None:
    mine = alert(AlertKind.LOOK_FIRST, PIET, name="p")
    common = alert(AlertKind.MISSING_FACT, ORLA, RUTH, name="k")
    stops = alert(AlertKind.PAST, PIET, name="S")
    silent = alert(AlertKind.NOT_KNOWN, SANNE, name="s")
    all_four = [Hearer(ORLA, True), Hearer(RUTH, True), Hearer(PIET), Hearer(None)]
    assert told(all_four, mine, common, stops, silent) == ["kSs", "kSs", "pS", "pkSs"]
    without_piet = [Hearer(ORLA, True), Hearer(None)]
    assert told(without_piet, mine) == ["p", "p"], "he has no channel: the keepers are told"
    for deaf in (Choice(wanted=False), Choice(off=frozenset({AlertKind.LOOK_FIRST}))):
        hearers = [Hearer(ORLA, True), Hearer(PIET, choice=deaf)]
        assert told(hearers, mine, stops) == ["pS", "S"], "he left it out: the keepers are told"
    both = [Hearer(ORLA, True), Hearer(RUTH, True)]
    assert told(both, alert(AlertKind.LOOK_FIRST, ORLA, name="o")) == ["o", ""]


@pytest.mark.parametrize("choice", [Choice(wanted=False), Choice(off=frozenset(AlertKind))])
def test_what_must_stop_somebody_and_oily_rags_are_never_left_out(choice: Choice) -> None:
    rags = alert(AlertKind.DUTY, PIET, ref="rag-load 4", name="r")
    late = alert(AlertKind.DUTY_OVERDUE, PIET, name="l")
    past = alert(AlertKind.PAST, PIET, name="p")
    duty = alert(AlertKind.DUTY, PIET, ref="duty 4", name="d")
    hearers = [Hearer(ORLA, True, choice), Hearer(PIET, False, choice)]
    assert told(hearers, rags, late, past, duty) == ["rlp", "rlp"]
    assert [share.left_out for share in share_out(hearers, [rags, late, past, duty])] == [1, 1]
    assert all(always_told(one) for one in (rags, late, past)) and not always_told(duty)


def test_the_head_of_the_log_goes_to_keepers_who_want_it_and_never_to_nobody() -> None:
    def heads(*hearers: Hearer) -> list[bool]:
        return [share.head for share in share_out(hearers, [])]

    off = Choice(wanted=False)
    assert heads(Hearer(ORLA, True), Hearer(RUTH, True, off), Hearer(PIET)) == [True, False, False]
    assert heads(Hearer(ORLA, True, off), Hearer(RUTH, True, off), Hearer(PIET)) == [True, True, False]
    assert heads(Hearer(ORLA, True, off), Hearer(None)) == [False, True]
    assert share_out([Hearer(PIET)], [])[0].empty and not share_out([Hearer(ORLA, True)], [])[0].empty


def test_no_alert_is_told_to_nobody_unless_every_owner_and_keeper_left_it_out() -> None:
    @given(
        st.sampled_from(list(AlertKind)),
        st.sets(st.sampled_from([ORLA, RUTH, PIET, SANNE]), min_size=1),
        st.lists(st.sets(st.sampled_from(list(SWITCHABLE))), min_size=3, max_size=3),
        st.lists(st.booleans(), min_size=3, max_size=3),
    )
    def told_to_somebody(
        kind: AlertKind, owners: set[int], off: list[set[AlertKind]], wanted: list[bool]
    ) -> None:
        one = alert(kind, *sorted(owners))
        choices = [Choice(w, None, frozenset(o)) for w, o in zip(wanted, off, strict=True)]
        who = ((ORLA, True), (RUTH, True), (PIET, False))
        hearers = [Hearer(*one, choice) for one, choice in zip(who, choices, strict=True)]
        heard = [share.told for share in share_out(hearers, [one])]
        could = [h for h in hearers if h.choice.hears(one) and (h.keeper or h.owns(one))]
        assert any(heard) == bool(could)
        assert all(not list_ or h in could for list_, h in zip(heard, hearers, strict=True))

    told_to_somebody()


def test_quiet_hours_are_read_whole_or_not_at_all() -> None:
    assert read_quiet(None, None) is None
    assert read_quiet(time(22), time(6)) == Quiet(time(22), time(6))
    for since, until, field in (
        (time(22), None, "quiet_until"), (None, time(6), "quiet_from"), (time(6), time(6), "quiet_until"),
    ):  # fmt: skip
        with pytest.raises(Invalid) as caught:
            read_quiet(since, until)
        assert list(caught.value.errors) == [field]
    assert read_off([kind.value for kind in SWITCHABLE]) == frozenset(SWITCHABLE)
    for odd in ("past", "duty-overdue", "channel", "soon", "nonsense", ""):
        with pytest.raises(Invalid):
            read_off(["duty", odd])


def test_quiet_hours_end_where_the_wall_clock_says_over_midnight_and_changes_of_the_clocks() -> None:
    """Held against going forward minute by minute, in zones with large and small changes."""

    @given(
        st.sampled_from(["Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "UTC"]),
        st.sampled_from([(3, 28), (10, 24), (4, 4), (10, 3), (3, 7), (10, 31), (6, 1), (2, 28)]),
        st.integers(0, 2 * 1440 - 1),
        st.times().map(lambda t: t.replace(second=0, microsecond=0)),
        st.times().map(lambda t: t.replace(second=0, microsecond=0)),
    )
    def ends(name: str, day: tuple[int, int], minutes: int, since: time, until: time) -> None:
        if since == until:
            return
        zone, quiet = ZoneInfo(name), Quiet(since, until)
        at = datetime(2026, *day, tzinfo=UTC) + timedelta(minutes=minutes)
        over = quiet.over(at, zone)
        brute = at
        while quiet.holds(brute.astimezone(zone).time()):
            brute += timedelta(minutes=1)
        skipped = over - brute
        assert timedelta() <= skipped <= timedelta(minutes=60)
        wall = over.astimezone(zone).replace(tzinfo=None)
        if skipped and over.astimezone(zone).time() == until:
            # Only where the clocks jumped over the end (or into the quiet hours) may it differ at all.
            offsets = {(over - timedelta(hours=n)).astimezone(zone).utcoffset() for n in range(26)}
            assert len(offsets) == 2, (wall, brute)

    ends()


@pytest.mark.parametrize(
    ("quiet", "at", "day"),
    [
        (None, datetime(2026, 3, 13, 6, tzinfo=UTC), 13),
        (None, datetime(2026, 3, 13, 5, 59, tzinfo=UTC), None),
        (Quiet(time(22), time(9)), datetime(2026, 3, 13, 7, 59, tzinfo=UTC), None),
        (Quiet(time(22), time(9)), datetime(2026, 3, 13, 8, tzinfo=UTC), 13),
        (Quiet(time(6), time(2)), datetime(2026, 3, 13, 4, 59, tzinfo=UTC), 12),
        (Quiet(time(6), time(2)), datetime(2026, 3, 13, 22, tzinfo=UTC), None),
        (Quiet(time(22), time(2, 30)), datetime(2026, 3, 13, 21, 5, tzinfo=UTC), None),
        (Quiet(time(6), time(2)), datetime(2026, 3, 14, 1, tzinfo=UTC), 13),
        (Quiet(time(12), time(13)), datetime(2026, 3, 13, 6, tzinfo=UTC), 13),
    ],
)
def test_the_mail_of_a_day_waits_for_the_end_of_quiet_hours(
    quiet: Quiet | None, at: datetime, day: int | None
) -> None:
    due = morning_due(at, time(7), BERLIN, quiet)
    assert (due[0].day if due else None) == day
    assert due is None or due[1] <= at


def test_the_mail_is_due_once_for_every_day_over_both_changes_of_the_clocks() -> None:
    for quiet in (None, Quiet(time(22), time(7, 30)), Quiet(time(5), time(2, 30))):
        for start in (datetime(2026, 3, 26, tzinfo=UTC), datetime(2026, 10, 22, tzinfo=UTC)):
            found = [
                due for n in range(6 * 24 * 4)
                if (due := morning_due(start + timedelta(minutes=15 * n), time(7), BERLIN, quiet))
            ]  # fmt: skip
            days = list(dict.fromkeys(day for day, _ in found))
            assert days == [days[0] + timedelta(days=n) for n in range(len(days))] and len(days) >= 5
            assert len({at for _, at in found}) == len(days), "each day has one hour"
            for _, at in found:
                assert quiet is None or not quiet.holds(at.astimezone(BERLIN).time())
