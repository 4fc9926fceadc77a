"""Sixty-four clients at once over HTTP: the last gram, a hot mix against a model, turns, one key once."""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from operator import itemgetter
from typing import Any

import pytest

from tests.faults.how_many import how_many
from tests.faults.invariants import nothing_lost
from tests.faults.served import Served
from tests.faults.stand import AUTH, OTHER_TOKEN, Stand
from tests.faults.writers import Kept, Wanted, Writer, all_kept, crew, hang_up, no_bad_answers

CLIENTS = 64
ROUNDS = how_many(5, 200)
ACTS_EACH = how_many(6, 500)
SETUPS = ("sqlite", "postgres", "two services on postgres")


@dataclass
class Scene:
    """A shop, served by one process or two, with a crowd of clients."""

    stand: Stand
    services: list[Served]
    crowd: list[Writer]

    @property
    def ports(self) -> list[int]:
        return [service.port for service in self.services]


@pytest.fixture(params=SETUPS)
def scene(request: pytest.FixtureRequest, serving: Callable[..., Served]) -> Scene:
    kind = "sqlite" if request.param == "sqlite" else "postgres"
    stand: Stand = request.getfixturevalue(f"{kind}_stand")
    services = [serving(stand) for _ in range(2 if request.param.startswith("two") else 1)]
    return Scene(stand, services, crew(stand, [s.port for s in services], CLIENTS, 81))


def all_at_once(crowd: list[Writer], wish: Callable[[int, Writer], list[Wanted]]) -> None:
    """Every client sends its wishes one after another; the first ones start at the same instant."""
    start = threading.Barrier(len(crowd))

    def run(number: int, client: Writer) -> None:
        wanted = wish(number, client)
        start.wait()
        for one in wanted:
            client.send(one)

    threads = [threading.Thread(target=run, args=pair) for pair in enumerate(crowd)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()


def take_in(scene: Scene, once: str, amount: str) -> str:
    client = scene.crowd[0]
    body = {"once": once, "material": scene.stand.powder, "amount": amount}
    assert client.send(("/api/containers", body)) == 201, client.bad
    return str(client.kept[-1].answer["containers"][0]["code"])


def test_the_last_gram_goes_to_one(scene: Scene) -> None:
    for number in range(ROUNDS):
        box = take_in(scene, f"round-{number}", "1 g")
        before = len(all_kept(scene.crowd))
        all_at_once(
            scene.crowd,
            lambda n, _, box=box, number=number: [
                (f"/api/containers/{box}/draws", {"once": f"r{number}-{n}", "amount": "1 g"})
            ],
        )
        no_bad_answers(scene.crowd)
        assert len(all_kept(scene.crowd)) == before + 1
        refused = Counter(status for client in scene.crowd for status in client.refused.values())
        assert refused == {409: (CLIENTS - 1) * (number + 1)}
    hang_up(scene.crowd)
    assert nothing_lost(scene.stand, scene.crowd) == 2 * ROUNDS


def changed(kept: Kept, before: int) -> int:
    """What a model makes of one acknowledged act: the amount after it, in mg."""
    answer = kept.answer
    match kept.path.rpartition("/")[2]:
        case "draws":
            return before - int(answer["drawn"])
        case "returns":
            return before + int(answer["returned"])
        case "losses":
            return before - int(answer["lost"])
        case "counts":
            return before if answer["confirms"] else int(answer["counted"])
    raise AssertionError(kept.path)


def test_a_hot_mix_is_what_a_model_makes_of_it_in_the_order_of_its_postings(scene: Scene) -> None:
    boxes = [take_in(scene, f"hot-{n}", "300 g") for n in range(5)]

    def wish(_: int, client: Writer) -> list[Wanted]:
        found: list[Wanted] = []
        for number in range(ACTS_EACH):
            once, box = f"{client.name}-h{number}", client.dice.choice(boxes)
            grams = f"{client.dice.randint(1, 9)} g"
            acts: dict[str, dict[str, Any]] = {
                "draws": {"amount": grams},
                "returns": {"amount": grams},
                "losses": {"amount": grams, "loss": "dried-up"},
                "counts": {"amount": f"{client.dice.randint(50, 300)} g"},
            }
            name = client.dice.choices(list(acts), (60, 25, 10, 5))[0]
            found.append((f"/api/containers/{box}/{name}", {"once": once, **acts[name]}))
        return found

    all_at_once(scene.crowd, wish)
    hang_up(scene.crowd)
    assert nothing_lost(scene.stand, scene.crowd) > CLIENTS
    amounts, seen = dict.fromkeys(boxes, 300_000), Counter[str]()
    acts = [kept for kept in all_kept(scene.crowd) if kept.path != "/api/containers"]
    for _, kept in sorted(((kept.answer["posting"], kept) for kept in acts), key=itemgetter(0)):
        box = kept.path.split("/")[3]
        amounts[box] = changed(kept, amounts[box])
        assert kept.answer["container"]["amount"] == amounts[box] >= 0, kept
        seen[kept.path.rpartition("/")[2]] += 1
    assert set(seen) == {"draws", "returns", "losses", "counts"}, "the mix was thinner than meant"
    for box, amount in amounts.items():
        status, _, body = scene.services[0].get(f"/api/containers/{box}", AUTH)
        assert status == 200 and f'"amount":{amount}'.encode() in body.replace(b" ", b"")


def test_nobody_is_passed_over(stand: Stand, serving: Callable[..., Served]) -> None:
    """All write as fast as they are answered until the first is through: by then everybody had turns."""
    service, enough = serving(stand), threading.Event()
    crowd = crew(stand, [service.port], CLIENTS, 82)
    turns, many = [0] * CLIENTS, how_many(8, 100)

    def run(number: int) -> None:
        client, box = crowd[number], stand.powders[number % len(stand.powders)]
        while not enough.is_set():
            body = {"once": f"{client.name}-t{turns[number]}", "amount": "0.001 g"}
            assert client.send((f"/api/containers/{box}/draws", body)) == 201, client.bad
            turns[number] += 1
            if turns[number] >= many:
                enough.set()

    threads = [threading.Thread(target=run, args=(n,)) for n in range(CLIENTS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert max(turns) >= many, "somebody was not answered"
    assert min(turns) >= many // 4, sorted(turns)
    assert nothing_lost(stand, crowd) == sum(turns)


def test_one_key_has_one_effect_and_one_answer(scene: Scene) -> None:
    stand, crowd = scene.stand, scene.crowd[:32]
    wanted: Wanted = (f"/api/containers/{stand.powders[0]}/draws", {"once": "one-key", "amount": "5 g"})
    all_at_once(crowd, lambda _n, _client: [wanted])
    no_bad_answers(crowd)
    answers = [kept.answer for kept in all_kept(crowd)]
    assert len(answers) == 32
    assert sorted(answer.pop("repeated") for answer in answers) == [False] + [True] * 31
    assert all(answer == answers[0] for answer in answers)

    for service in scene.services:  # the key outlives the service
        service.stop()
        service.start()
    hang_up(crowd)
    client = Writer(stand, scene.ports, "again", crowd[0].dice)
    status, again, _ = client.post(wanted)
    assert (status, again.pop("repeated"), again) == (201, True, answers[0])

    other = (wanted[0], wanted[1] | {"amount": "6 g"})
    status, said, _ = client.post(other)
    assert (status, said["type"]) == (409, "/problems/once-reused")
    foreign = Writer(stand, scene.ports, "foreign", crowd[0].dice, {"authorization": f"Bearer {OTHER_TOKEN}"})
    status, said, _ = foreign.post(wanted)
    assert (status, said["type"]) == (409, "/problems/once-reused")
    assert set(said) == {"type", "title", "status", "detail"}, "nothing of the first answer is told"
    missing = (wanted[0], {"amount": "5 g"})
    assert client.post(missing)[0] == 422
    status, _, body = scene.services[0].get(f"/api/containers/{stand.powders[0]}", AUTH)
    assert status == 200 and b"995000" in body, "five grams, once"
