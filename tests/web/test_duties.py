"""The page of one's duties, and marking one as done."""

from __future__ import annotations

from service.core.access import Role
from service.records.duties import Duty
from tests.builders import NOW
from tests.web.conftest import Shop


def owe(shop: Shop, role: Role) -> int:
    with shop.database.writing() as session:
        duty = Duty(
            kind="move-container",
            sentence="Move the thinner into the cabinet.",
            owed_by=shop.actor(role).person_id,
            due_at=NOW,
            created_at=NOW,
        )
        session.add(duty)
        session.flush()
        assert duty.id is not None
        return duty.id


def test_a_duty_is_marked_as_done_with_a_sentence(shop: Shop) -> None:
    duty_id = owe(shop, Role.FINISHER)
    client = shop.signed_in(Role.FINISHER)
    assert f"/duties/{duty_id}/done" in client.get("/duties").text
    form = client.get(f"/duties/{duty_id}/done")
    assert "Move the thinner into the cabinet." in form.text
    short = client.post(f"/duties/{duty_id}/done", data={"once": "duty-once-1", "answer": "ok"})
    assert short.status_code == 422
    assert 'value="duty-once-1"' in short.text
    sent = {"once": "duty-once-1", "answer": "It stands in the cabinet now."}
    assert client.post(f"/duties/{duty_id}/done", data=sent).status_code == 303
    assert client.post(f"/duties/{duty_id}/done", data=sent).status_code == 303, "sent twice, done once"
    assert f"/duties/{duty_id}/done" not in client.get("/duties").text


def test_somebody_elses_duty_is_not_found(shop: Shop) -> None:
    duty_id = owe(shop, Role.FINISHER)
    client = shop.signed_in(Role.STUDENT)
    assert client.get(f"/duties/{duty_id}/done").status_code == 404
    sent = {"once": "duty-once-2", "answer": "It stands in the cabinet now."}
    assert client.post(f"/duties/{duty_id}/done", data=sent).status_code == 403
    with shop.database.reading() as session:
        duty = session.get(Duty, duty_id)
        assert duty is not None
        assert duty.done_at is None
