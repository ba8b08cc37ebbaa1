"""Every kind of finding through every voice: none without words, and all that decided stands in the JSON."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shimopt.arithmetic.likely_cause import Likely
from shimopt.lengths import Bracket
from shimopt.parts import Part, StockLine
from shimopt.reasons import job_facts, slip_facts
from shimopt.render.json.results_json import finding_object
from shimopt.seats import Finding
from shimopt.seats.finding import Fact, Lack, made
from shimopt.seats.stack_facts import Missing, NotChecked
from shimopt.words.customer_words import unfit
from shimopt.words.finding_words import finding_words
from shimopt.words.fit_words import missing_words
from shimopt.words.found_words import where_to_look
from shimopt.words.speaker import Speaker
from tests.codes import known_codes

PIECE = StockLine(Part("S-1", Bracket.between(200_000, 200_000)), 1)
SAY = Speaker("mm", (PIECE,))
NM = st.integers(1, 900).map(lambda n: n * 1_000)
# what a field of such a type can hold
BY_TYPE: dict[str, st.SearchStrategy[object]] = {
    "Length": NM,
    "Length | None": st.none() | NM,
    "Number": st.fractions(0, 1),
    "Fraction": st.fractions(-1, 1),
    "Fraction | None": st.none() | st.fractions(-1, 1),
    "int": st.integers(1, 3),
    "bool": st.booleans(),
    "bool | None": st.none() | st.booleans(),
    "str": st.sampled_from(["a word", "another"]),
    "tuple[str, ...]": st.just(("ring", "slotted")),
    "Stack": st.just((0, 0)),
    "tuple[tuple[str, str], ...]": st.just((("clamped", "finger tight"), ("hardware", "old"))),
    "tuple[tuple[str, Stack], ...]": st.just((("left", (0, 0)), ("right", (0,)))),
    "Fact": st.just(job_facts.FewPulls(pulls=1, fewest=3)),
    "tuple[int, int]": st.just((13, 37)),
    "tuple[Missing, ...]": st.just((Missing("bore", Lack.NO_BORE, 3), Missing("fillet", Lack.NO_FILLET, 7))),
    'Literal["thickness", "inner", "outer"]': st.sampled_from(["thickness", "inner", "outer"]),
    'Literal["neighbours", "window", "window and pieces", "first reading"]': st.sampled_from(
        ["neighbours", "window", "window and pieces", "first reading"]
    ),
    'Literal["over", "under"]': st.sampled_from(["over", "under"]),
    'Literal["geometry", "two readings"]': st.sampled_from(["geometry", "two readings"]),
}
# what a field of such a name holds, where it is not any word
BY_NAME = {
    "how": st.sampled_from(["ten times too large", "a zero too many", "in"]),
    "likely": st.sampled_from(get_args(Likely)),
    "typed_in": st.sampled_from(["mm", "thou"]),
    "by": st.sampled_from(["seat", "place"]),
    "unit": st.sampled_from(["mm", "thou"]),
}


def kinds(of: type[Fact] = Fact) -> Iterator[type[Fact]]:
    """Every class with a code."""
    for one in of.__subclasses__():
        if one.__module__.startswith("shimopt."):
            yield one
            yield from kinds(one)


KINDS = list(dict.fromkeys(kinds()))


def test_every_code_has_one_kind() -> None:
    assert sorted(kind.code for kind in KINDS) == known_codes("finding")


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
@settings(
    deadline=None, max_examples=16
)  # how long a sentence takes is no matter here, and others may compute beside it
@given(data=st.data())
def test_every_kind_has_words_in_every_voice(kind: type[Fact], data: st.DataObject) -> None:
    held = {
        one.name: data.draw(
            BY_NAME[one.name] if one.name in BY_NAME else BY_TYPE[str(one.type).replace(chr(39), chr(34))]
        )
        for one in fields(made(kind))
    }
    finding = Finding(place="cap", part="S-1", grade="note", fact=kind(**held))
    for said in (finding_words(finding, SAY), unfit(finding, SAY)):
        assert said
        assert not said.endswith(".")
        assert "Fraction" not in said
        assert "None" not in said
    told = finding_object(finding, SAY)
    assert (told["code"], told["words"]) == (kind.code, finding_words(finding, SAY))
    assert len(told["numbers"]) == sum(one.type in ("Length", "Number") for one in fields(made(kind)))
    assert all(isinstance(number, int | float) for number in told["numbers"].values())


def test_a_kind_that_nobody_words_is_noticed() -> None:
    class Unheard(Fact, code="burr"):
        """A kind of its own."""

    with pytest.raises(TypeError, match="Unheard"):
        finding_words(Finding(grade="note", fact=Unheard()), SAY)


@pytest.mark.parametrize("lack", Lack)
def test_whatever_a_rule_lacks_has_words_and_is_counted_where_it_is_lacking_part_by_part(lack: Lack) -> None:
    said = finding_words(Finding(grade="note", fact=NotChecked(missing=(Missing("bore", lack, 3),))), SAY)
    of_parts = {"no_bore", "no_outside", "no_edge", "no_form", "no_material", "no_hardness"}
    counted = missing_words(lack).replace("of the part", "of 3 parts") if lack in of_parts else missing_words(lack)
    assert said == f"not checked, not given: {counted}"
    assert ("3 parts" in said) is (lack in of_parts)


# what is likely, and where one then has to look: A is what should be in, B what may be in instead of it, or beside it
WHERE_TO_LOOK = {
    "agrees": "",
    "machined": ": it was worked on otherwise than by shims since",
    "cover_rested": ": the reading before was blind and is disproved, for the cover rested on its case",
    "read_with_play": ": the reading before was taken while A still had play, which lets it stand so far off",
    "preload_hidden": ": the reading before was blind and is disproved, for what read as nothing hid a preload",
    "cover_may_have_rested": ": the reading before was blind, and the cover may have rested on its case",
    "preload_may_be_hidden": ": the reading before was blind, and may have hidden up to 0.09 mm of preload",
    "reading_slipped": ", as if 0.05 mm had been meant by the reading before: its decimal point, or its unit, had "
    "slipped",
    "closed_up_holds": ", as the reading closed up said (0.05 to 0.09 mm): that one holds",
    "record_off": ", but just as the first reading foretells (0.05 to 0.09 mm): what the record of A says is in doubt",
    "moved_other_way": ": it moved the other way; look first whether the packs at A and B went in interchanged, or "
    "`into_mesh` (or a sign in `effects`) stands on the wrong one",
    "interchanged": ", as much as B is the other way: look whether the two readings, or what is in there, were "
    "interchanged",
    "packs_interchanged": ", as if the packs at A and B had gone in interchanged: look there first",
    "piece_stayed": ", as if A had stayed in: look whether it came out",
    "piece_in": ", as if A were in too: look whether it is",
    "effect_computed": ": look first whether the packs at A and B move it as far as is computed, the least known "
    "figure here (share, teeth, angle), then for a wrong shim, clamping and seating",
    "piece_missing": ", as if A were missing: count the pieces",
    "piece_double": ", as if A were in twice: count the pieces",
    "wrong_piece": ", as if B were in instead of A: look which is in, then for burr and dirt",
    "half_share": ", as if the packs at A and B held the gear between them: where they do, write share = 0.5 in each",
    "clamp_state": ", like most of the others: likely the clamping, the hardware or the gauge differs from the trial",
    "not_as_marked": ": a piece may not be as marked; measure the pieces with a micrometer",
    "thicker_than_marked": ": look for dirt or a burr, which make a pack thicker; then measure the pieces with a "
    "micrometer",
    "nothing_fitted": ", and no shim that went in can be to blame: look whether what came out was as marked, then at "
    "clamping, seating and the gauge",
    "nothing_done": ", and no shim was changed there: if nothing else was done to it, look at clamping, seating and "
    "the gauge, or whether it ran and wore since",
    "under_cover": ": look for dirt or a burr under the cover, and whether it was nipped too hard when it was read "
    "before; then measure the pieces",
    "reading_doubted": ": the reading before looked like a slip already, and what was calculated from it with it",
    "burr_or_seating": ": look for a burr, dirt, a wrong shim, or a seat that is not home",
    "clamp_or_seating": ": look for a wrong shim, and whether it is clamped and the seat home as in the trial",
}


def likely_words(likely: Likely, count: int = 1) -> str:
    fact = job_facts.NotAsPredicted(
        looser=100_000,
        plausible=10_000,
        likely=likely,
        part="A",
        other="B",
        explained_low=50_000,
        explained_high=90_000,
        count=count,
    )
    return where_to_look(fact, SAY)


def test_whatever_is_likely_says_where_to_look_and_no_two_the_same() -> None:
    assert {likely: likely_words(likely) for likely in get_args(Likely)} == WHERE_TO_LOOK
    assert len({*WHERE_TO_LOOK.values()}) == len(WHERE_TO_LOOK)


def test_of_several_pieces_of_a_name_one_is_meant() -> None:
    assert likely_words("piece_missing", count=2) == ", as if one of the 2 A were missing: count the pieces"
    assert likely_words("piece_double", count=2) == ", as if 3 x A were in: count the pieces"
    assert likely_words("piece_stayed", count=2) == ", as if one of the 2 A had stayed in: look whether it came out"


def test_what_a_suspected_reading_says_by_hand() -> None:
    """2.5 mm where 0.25 mm is usual is ten times as much."""
    fact = slip_facts.ReadingSuspect(
        reading=2_500_000, usual=250_000, against="neighbours", meant=250_000, how="ten times too large"
    )
    assert finding_words(Finding(place="a", grade="caution", fact=fact), SAY) == (
        "reads 2.50 mm, 10 times its neighbours (about 0.25 mm): a decimal point may have slipped; was 0.25 mm meant? "
        "Measure it again"
    )
