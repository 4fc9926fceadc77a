"""What came, what went, and what nobody knows, of a mix before and after one addition."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.additions import HowAdded, Span, pot_drift, taken_back_id, taken_back_words
from service.core.findings import Severity, unknown
from service.core.hazards.classes import Family, Hazard, Signal
from service.core.hazards.statements import Statement
from service.core.mix_change import NOTHING, MixState, compare

FLAM_2, FLAM_3 = Hazard(Family.FLAMMABLE_LIQUID, "2"), Hazard(Family.FLAMMABLE_LIQUID, "3")
EYES = Hazard(Family.EYE, "2")
DOUBT = unknown("sheet-missing", "Its sheet is missing.", about="spirit")


def mix(*hazards: Hazard, **said: object) -> MixState:
    texts = {"H225": "Highly flammable liquid and vapour.", "H226": "Flammable liquid and vapour."}
    signals = [one.signal for one in hazards if one.signal]
    facts = {
        "hazards": hazards,
        "pictograms": tuple(dict.fromkeys(p for one in hazards for p in one.pictograms)),
        "signal": Signal.DANGER if Signal.DANGER in signals else Signal.WARNING if signals else None,
        "statements": tuple(Statement(one.code, texts.get(one.code, "Text.")) for one in hazards),
    }
    return MixState(**(facts | said))  # type: ignore[arg-type]


def test_what_comes_is_told_by_class_sign_and_text() -> None:
    change = compare(mix(), mix(FLAM_2))
    said = [one.sentence for one in change.verdict]
    assert "This addition makes it Flam. Liq. 2 H225." in said
    assert "Its label says Danger now; before it said no signal word." in said
    assert "Its label gets the pictogram GHS02 (flame)." in said
    assert "Its label gets “H225 Highly flammable liquid and vapour.”." in said
    assert {one.severity for one in change.verdict} == {Severity.WARN} and change.complete


def test_what_gets_worse_names_both_and_tells_nothing_as_gone() -> None:
    change = compare(mix(FLAM_3), mix(FLAM_2))
    assert change.verdict.codes == {"hazard-worse", "signal-louder", "statement-came"}
    assert "before it was Flam. Liq. 3 H226" in change.verdict.findings[0].sentence


@pytest.mark.parametrize("after", [mix(FLAM_3), mix()])
def test_what_eases_is_a_note_where_all_is_known_and_a_question_where_not(after: MixState) -> None:
    before = mix(FLAM_2)
    sure = compare(before, after)
    assert {one.severity for one in sure.verdict if "went" in one.code or "milder" in one.code} == {
        Severity.NOTE
    }
    open_one = MixState(**(after.__dict__ | {"unknowns": (DOUBT,)}))
    doubtful = compare(before, open_one)
    eased = [one for one in doubtful.verdict if "perhaps" in one.code]
    assert eased and all(one.severity is Severity.UNKNOWN for one in eased)
    assert not any(one.severity is Severity.NOTE for one in doubtful.verdict)
    assert "treat it as Flam. Liq. 2 H225 still" in eased[0].sentence
    assert doubtful.new_unknowns == (DOUBT,) and not doubtful.complete


def test_nothing_changed_is_said_only_of_what_is_known() -> None:
    same = mix(EYES)
    assert compare(same, same).verdict.codes == {"nothing-changed"}
    doubtful = mix(EYES, unknowns=(DOUBT,))
    for before, after in ((doubtful, same), (same, doubtful), (doubtful, doubtful)):
        told = compare(before, after)
        assert told.verdict.codes == {"no-change-known"} and not told.verdict.complete
    assert compare(doubtful, doubtful).open_before == 1


def test_what_could_not_be_worked_out_says_so_and_nothing_else() -> None:
    broken = MixState(why_not="The amounts add up to nothing.")
    assert compare(mix(FLAM_2), broken).verdict.codes == {"after-not-known"}
    told = compare(broken, mix(FLAM_2))
    assert {"before-not-known", "hazard-came"} <= told.verdict.codes and not told.verdict.complete


def test_flash_point_binder_and_rags() -> None:
    oily = mix(flash_c=Decimal(23), flash_calculated=True, rags_heat=True)
    change = compare(mix(flash_c=Decimal(41)), oily)
    assert change.verdict.codes == {"flash-lower", "rags-heat"}
    assert "about 23 °C now; before it was 41 °C" in " ".join(one.sentence for one in change.verdict)
    higher = compare(mix(flash_c=Decimal(23)), mix(flash_c=Decimal(41), unknowns=(DOUBT,)))
    assert "flash-perhaps-higher" in higher.verdict.codes
    assert "flash-not-known" in compare(mix(flash_c=Decimal(23)), mix()).verdict.codes
    assert "flash-known" in compare(mix(), mix(flash_c=Decimal(23))).verdict.codes
    bound = mix(held="well bound")
    assert "binder-changed" in compare(bound, mix(held="under-bound: rubs off")).verdict.codes
    assert "binder-not-known" in compare(bound, mix()).verdict.codes


def test_the_first_addition_has_nothing_before_it() -> None:
    told = compare(NOTHING, mix(FLAM_2, flash_c=Decimal(20)))
    assert "flash-lower" not in told.verdict.codes and "before" not in told.verdict.findings[0].sentence


_STATES = st.builds(
    lambda hazards, doubts, why: mix(*hazards, unknowns=tuple(doubts), why_not=why),
    st.lists(st.sampled_from([FLAM_2, EYES, Hazard(Family.CARCINOGEN, "1B")]), unique=True, max_size=3),
    st.lists(st.just(DOUBT), max_size=1),
    st.sampled_from(["", "", "It cannot be."]),
)


@given(before=_STATES, after=_STATES)
def test_no_doubt_is_ever_told_as_gone_or_unchanged(before: MixState, after: MixState) -> None:
    told = compare(before, after)
    notes = {one.code for one in told.verdict if one.severity is Severity.NOTE}
    if not after.complete:
        assert notes == set()
    if not before.complete:
        assert "nothing-changed" not in notes
    if set(before.hazards) != set(after.hazards) and not (before.why_not or after.why_not):
        assert told.verdict.codes & {"hazard-came", "hazard-went", "hazard-perhaps-went"}
    assert told.verdict.findings


@given(low=st.integers(0, 9), extra=st.integers(0, 9), more=st.integers(0, 9), back=st.integers(0, 30))
def test_spans_add_and_never_go_below_nothing(low: int, extra: int, more: int, back: int) -> None:
    one, other = Span(low, low + extra), Span(more, more)
    both = one.plus(other)
    assert (both.low, both.high) == (low + more, low + extra + more)
    left = both.less(back)
    assert 0 <= left.low <= (left.high or 0) and both.plus(Span(0, None)).high is None


def test_words_of_what_was_taken_back_can_be_read_again() -> None:
    assert taken_back_id(taken_back_words(12, "x" * 300)) == 12
    assert taken_back_id("2 tsp addition 12 taken back: no") is None
    assert pot_drift(None, 5) == 0 and HowAdded("pot") is HowAdded.POT
