"""Every kind of reason through every voice: none without words, none that says the same whatever it holds."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shimopt.reasons.gap_reasons import Reason
from shimopt.reasons.shared_reasons import FigureAssumed
from shimopt.seats import Finding
from shimopt.seats.finding import made
from shimopt.seats.part_facts import BoreTooSmall
from shimopt.words.customer_words import because
from shimopt.words.reading_words import assumption_words
from shimopt.words.reason_words import reason_words
from shimopt.words.speaker import Speaker
from tests.codes import known_codes
from tests.jobs import shim

SAY = Speaker("mm", (shim("0.1", 1, unit="mm", name="S-one"), shim("0.2", 1, unit="mm", name="S-two")))
DOES_NOT_SUIT = Finding(
    place="left end",
    part="S-one",
    grade="stop",
    fact=BoreTooSmall(least_bore=19_000_000, largest_shaft=20_000_000),
)
NM = st.integers(1, 900).map(lambda n: n * 1_000)
# what a field of this name can hold
VALUES: dict[str, st.SearchStrategy[object]] = {
    "about": st.just("the rear bearing"),
    "names": st.just(("left end", "right end")),
    "coarse": st.sampled_from([(), ("left end",)]),
    "stack": st.sampled_from([(0,), (0, 1), (1, 1)]),
    "held": st.just((1,)),
    "nearest": st.sampled_from([(), (1,)]),
    "side": st.sampled_from(["over", "under"]),
    "side_after": st.sampled_from(["over", "under"]),
    "less_sure": st.sampled_from([(), ("cap end",)]),
    "served": st.sampled_from([(), ("cap end",)]),
    "why": st.just("drawing 12"),
    "alike": st.sampled_from([(), ("left cap", "right cap")]),
    "first": st.just(("pieces",)),
    "findings": st.sampled_from([(), (DOES_NOT_SUIT,)]),
    "left": st.booleans(),
    "got": st.sampled_from([(), ("left end",), ("left end", "right end")]),
    "kept": st.sampled_from([(), ("left end",)]),
    "stacks": st.just((("left end", (0,)), ("cap end", (0, 1)))),
    "source": st.sampled_from(["", "its sheet"]),
    "changes": st.just((("left end", 1_000), ("right end", -2_000), ("cap", 0))),
    "chance": st.fractions(0, 1),
    "least": NM,
    "fewest": st.integers(2, 4),
    "opened_by": st.sampled_from([None, False, True]),
    "there": st.integers(0, 1),
    "together": st.booleans(),
    "pieces": st.integers(1, 5),
    "spread": st.fractions(1, 5),
    **{
        name: st.booleans()
        for name in (
            "needless",
            "opens",
            "surest",
            "and_others",
            "searched",
            "preload",
            "sure",
            "further",
            "final",
            "cover",
            "bare",
            "in_now",
            "unproven",
            "right",
            "sure_before",
        )
    },
    **dict.fromkeys(
        [
            "after",
            "thickness",
            "off",
            "out",
            "thickest",
            "thinnest",
            "short",
            "most",
            "read",
            "still",
            "step",
            "before",
            "within",
            "over",
            "half",
            "tight",
            "loose",
            "doubt",
        ],
        NM,
    ),
}
CODES = known_codes("reason")
ASSUMED = {code for code in CODES if code.endswith("_assumed")} | {
    "farthest_pull",
    "errors_independent",
    "unmeasured_independent",
    "measured_independent",
    "gauge_repeats",
    "sizes_learnt",
    "micrometer_shared",
    "heat_uniform",
}


# what the letter says in other sentences: what was done and what it brings, parts that do not suit, how alike, the cost
SAID_ELSEWHERE = {
    "fitted_to_come_inside",
    "fitted_for_target",
    "fitted_for_the_chance",
    "parts_do_not_suit",
    "stays",
    "swapped",
    "swapped_inside",
    "place_stays",
    "together_moved",
    "together_still_inside",
    "more_thickness",
    "shift_thickness",
    "balance_set_aside",
    "not_within",
    "not_within_found",
    "left_uneven",
    "no_price",
}
# inside as it was
MAY_BE_SILENT = {"together_left"}


def kinds(of: type[Reason] = Reason) -> Iterator[type[Reason]]:
    """Every class with a code."""
    if of.code:
        yield of
    for one in of.__subclasses__():
        if one.__module__.startswith("shimopt."):
            yield from kinds(one)


KINDS = list(dict.fromkeys(kinds()))


def test_every_code_has_a_kind() -> None:
    assert {kind.code for kind in KINDS} == set(CODES)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
@settings(deadline=None, max_examples=16)
@given(data=st.data())
def test_every_kind_has_words_in_every_voice(kind: type[Reason], data: st.DataObject) -> None:
    reason = kind(**{field.name: data.draw(VALUES[field.name]) for field in fields(made(kind))})
    said = assumption_words(reason, SAY) if reason.code in ASSUMED else reason_words(reason, SAY)
    assert said.endswith(".")
    assert "Fraction" not in said
    assert "None" not in said
    assert "()" not in said
    assert said.count("the rear bearing") <= 1
    letter = because(reason, SAY)
    if kind.code in SAID_ELSEWHERE or kind.code in ASSUMED:
        assert letter == ""
    else:
        assert letter.endswith(".") or (letter == "" and kind.code in MAY_BE_SILENT)


def test_a_kind_that_nobody_words_is_noticed() -> None:
    class Unheard(Reason, code="no_price"):
        pass

    class UnheardFigure(FigureAssumed, code="gasket_assumed"):
        pass

    with pytest.raises(TypeError, match="Unheard"):
        reason_words(Unheard(about="x"), SAY)
    with pytest.raises(TypeError, match="UnheardFigure"):
        assumption_words(UnheardFigure(about="x", half=1), SAY)
