"""Shelf codes: what is caught, what is read, what is never guessed."""

from __future__ import annotations

import random
from itertools import pairwise, product

from hypothesis import given
from hypothesis import strategies as st

from service.core import shelf_codes as codes


def test_twenty_eight_signs_without_look_alikes_and_without_vowels() -> None:
    assert len(codes.SIGNS) == 28 == len(set(codes.SIGNS))
    assert not set("01L" "AEIOU") & set(codes.SIGNS)


def test_every_single_wrong_sign_and_every_swap_changes_the_sum_for_all_codes() -> None:
    """The sum is linear, so the change depends only on place and the two signs: all of them are tried."""
    for weight in codes._WEIGHTS:
        for a, b in product(range(28), repeat=2):
            assert a == b or weight * (a - b) % 29 != 0
    for i, j in product(range(6), repeat=2):
        for a, b in product(range(28), repeat=2):
            if i != j and a != b:
                assert (codes._WEIGHTS[i] - codes._WEIGHTS[j]) * (a - b) % 29 != 0


def test_slips_are_caught_on_real_codes_written_out() -> None:
    rng = random.Random(20)
    for _ in range(300):
        code = codes.make_code(rng.randrange(codes.SPACE))
        for at, sign in product(range(6), codes.SIGNS):
            wrong = code[:at] + sign + code[at + 1 :]
            assert codes.is_code(wrong) == (wrong == code)
        for at in range(5):
            swapped = code[:at] + code[at + 1] + code[at] + code[at + 2 :]
            assert codes.is_code(swapped) == (swapped == code)


def test_numbers_without_a_check_sign_move_on_to_the_next() -> None:
    made = [codes.make_code(n) for n in range(29 * 40)]
    without = sum(a == b for a, b in pairwise(made))
    assert all(codes.is_code(code) for code in made)
    assert 20 < without < 60
    assert codes.make_code(codes.SPACE - 1) and codes.make_code(codes.SPACE) == codes.make_code(0)


@given(st.integers(min_value=0))
def test_every_number_gives_a_code_that_is_read_back(number: int) -> None:
    code = codes.make_code(number)
    assert codes.normalise(code) == codes.normalise(codes.show_code(code).lower()) == code


def test_all_the_ways_people_and_scanners_write_it() -> None:
    code = codes.make_code(4_711_000)
    low = code.lower()
    for text in (
        code, low, f" {low}\r\n", f"{code[:3]}-{code[3:]}", f"{code[:3]}\u00a0{code[3:]}",
        f"{code[:3]}\u2013{code[3:]}", f"C/{code}", f"/C/{low}", f"/c/{low}/", f"https://x.example/C/{code}",
        f"HTTP://10.0.0.5:8000/C/{code}?via=label#top", f"\ufeff{code}", " ".join(code),
    ):  # fmt: skip
        assert codes.normalise(text) == code, text


def test_what_is_not_a_code_is_none() -> None:
    code = codes.make_code(4_711_000)
    for text in (
        "", " ", "C/", "/C/", code[:5], code + "2", "\x00" * 6, "ſ" * 6, "２２２２２２", "💥" * 6,
        "0" * 6, "https://x.example/", code + "x" * 600, "/" * 400, "IIIIII", "222223",
    ):  # fmt: skip
        assert codes.normalise(text) is None, text


def test_look_alikes_are_not_guessed_but_offered() -> None:
    code = next(c for n in range(5000) if "Q" in (c := codes.make_code(n * 977))[:5])
    written = code.replace("Q", "O", 1)
    assert codes.normalise(written) is None
    assert code in codes.near_codes(written)


def test_near_codes_holds_the_true_one_for_every_single_slip() -> None:
    rng = random.Random(7)
    for _ in range(40):
        code = codes.make_code(rng.randrange(codes.SPACE))
        at = rng.randrange(6)
        wrong = code[:at] + rng.choice([s for s in codes.SIGNS if s != code[at]]) + code[at + 1 :]
        near = codes.near_codes(wrong)
        assert code in near and len(near) <= 11 and all(codes.is_code(c) for c in near)
    assert codes.near_codes("\x00") == codes.near_codes("") == []
