"""A gap as `shimopt new` asks for it: its name, where its shims go, what it reads and what is in it."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

from shimopt.cli.new_readings import asked_until, reading_asked, words_asked
from shimopt.cli.terminal import chosen, say
from shimopt.errors import InputError
from shimopt.starting.new_answers import Answers, GapRead, PieceIn
from shimopt.starting.new_doubts import reading_doubted
from shimopt.starting.new_examples import EXAMPLES
from shimopt.starting.typed_pieces import pieces_typed


def gap_asked(answers: Answers, again: GapRead | None = None) -> GapRead | None:
    """The next gap, or `again` one that was answered before; None where there is none."""
    known = [gap.name for gap in answers.gaps]
    question = "Name of the next gap (done if there is none)" if known and not again else "Name of the gap"
    while True:
        called = words_asked(question, default=again.name if again else ("done" if known else None))
        if known and called == "done":
            return None
        if called not in known:
            break
        say("  This name is taken.")
    before = again or (answers.gaps[-1] if answers.gaps else None)
    covered = _covered(before)
    seat = _seat(answers, covered=covered)
    while True:
        form, table = reading_asked(
            answers.unit,
            under_cover=covered,
            before=before.form if before else "",
            again=again.table if again else "",
        )
        gap = GapRead(called, form, table, seat=seat)
        try:
            doubt = reading_doubted(answers, gap)
        except InputError as error:
            for problem in error.problems:
                say(f"  {problem.rule}. {problem.remedy}.")
            continue
        if doubt is not None:
            say(f"  {doubt}.")
            if chosen("  Was it read as typed?", ("yes", "no"), "no") == "no":
                continue
        break
    return replace(gap, checked=doubt is not None, was_in=_was_in(answers, again, covered=covered))


def gap_again(answers: Answers, at: int) -> Answers:
    """The answers with one gap asked for again; without it where it turns out to be none."""
    others = [gap for number, gap in enumerate(answers.gaps) if number != at]
    gap = gap_asked(replace(answers, gaps=others), answers.gaps[at])
    return replace(answers, gaps=[*answers.gaps[:at], *([gap] if gap else []), *answers.gaps[at + 1 :]])


def _covered(before: GapRead | None) -> bool:
    question = "  Where do its shims go: into the gap, or under a cover?"
    return chosen(question, ("gap", "cover"), "cover" if before and before.covered else "gap") == "cover"


def _seat(answers: Answers, *, covered: bool) -> str:
    """The seat of its shims; a pack under a cover is flat, where no other job says otherwise."""
    if answers.base is None:
        return "seat" if answers.shaft and not covered else ""
    seats = answers.base.seats
    if len(seats) < 2:
        return seats[0] if seats else ""
    return chosen("  Its seat", seats, seats[0])


def _was_in(answers: Answers, again: GapRead | None, *, covered: bool) -> tuple[PieceIn, ...]:
    """The pieces that are in, or that came out from under the cover."""
    held = "What lay under the cover before" if covered else "Shims in it while it was read"
    names = [line.part.name for line in answers.base.stock.lines] if answers.base else None
    like = EXAMPLES[answers.unit].pieces if not names else f"{names[0]} + 2 x {names[-1]}"

    said = [piece.name for piece in again.was_in] if again else []
    read = partial(pieces_typed, answers=answers)
    return asked_until(f"  {held} (+ between: {like}; none)", read, default=" + ".join(said) or "none")
