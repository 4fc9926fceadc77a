"""What a mail says of oily rags holds whenever it leaves: clock times, never what was left of them."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from service.core.warning_words import by_the_clock
from service.records.engine import Database
from tests.core.rag_story import canned, judged
from tests.rag_shop import make_shop
from tests.warned_shop import Warned, mail_channel, settings_of

PIET = "piet@shop.example"
LEAVES = datetime(2026, 3, 12, 10, 50, tzinfo=UTC)
"""An hour and more before the rags in the can must be out."""


@pytest.mark.parametrize("minutes", [30, 180, 1000])
def test_the_words_name_clock_times(minutes: float) -> None:
    for found in (judged(minutes), judged(minutes, canned(5))):
        said = by_the_clock(found, ZoneInfo("Europe/Berlin"))
        assert " left" not in said and " min " not in said and "2026, " in said
        assert ("overdue since" in said) == found.blocks and found.load.name in said


def test_a_mail_that_leaves_hours_late_overstates_nothing(database: Database, tmp_path: Path) -> None:
    shop = make_shop(database)
    shop.draw()
    with database.writing() as session:
        mail_channel(session, shop, shop.people.finisher, PIET)
    warned = Warned(shop, settings_of(database, tmp_path))
    warned.settings = type(warned.settings)(**{**vars(warned.settings), "morning_mail": time(11, 50)})
    shop.pass_by(minutes=5)
    shop.into_can()
    warned.wire.fails["*"] = "way"
    shop.now = LEAVES
    warned.round()
    warned.wire.fails.clear()
    shop.now = LEAVES + timedelta(minutes=25)
    warned.round()
    mails = [one for one in warned.wire.take() if "morning" in one.message_id]
    assert len(mails) == 1 and "Rag load 1" in mails[0].text
    assert "must be out of the building by 12 March 2026, " in mails[0].text and " left" not in mails[0].text
