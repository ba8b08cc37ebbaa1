"""Which thickness a gap wants that nobody has, as a step and in a few words."""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

from shimopt.arithmetic import thickness_of
from shimopt.arithmetic.clearance import Stack
from shimopt.arithmetic.needed import Span, aimed, needed
from shimopt.errors import shown
from shimopt.job import Gap, Job
from shimopt.words.digits import within
from shimopt.words.reading_words import basis_text
from shimopt.words.speaker import Speaker, listed, stack_wanted


class Size(NamedTuple):
    """Which thickness would do, of how many pieces at least, whether it is sure to, and how thick what is in is.

    `beside` whether that may stay in beside another piece.
    """

    span: Span
    fewest: int
    sure: bool
    held: Fraction
    beside: bool


def size_of(job: Job, gap: Gap) -> Size | None:
    """The size that a gap wants; None where none would do."""
    span, sure = needed(job, gap), True
    if span is None or span.most == 0:
        span, sure = aimed(job, gap), False
    fewest = max((job.place[place].fewest_pieces for place, _ in gap.effects), default=0)
    held = sum((thickness_of(job.place[place].installed, job.stock).best for place, _ in gap.effects), Fraction(0))
    beside = any(job.place[place].most_pieces > 1 for place, _ in gap.effects)
    return None if span is None else Size(span, fewest, sure, held, beside)


def size_wanted(job: Job, gap: Gap, say: Speaker) -> str:
    """`left needs 21 to 24 thou of shim that suits to be sure.`"""
    size = size_of(job, gap)
    if size is None:
        return ""
    end = (basis_text(gap, plain=True) or " to be sure") if size.sure else ""
    places = [place for place, _ in gap.effects if place != gap.name]
    end = f" at {listed(places)}{end}" if places else end
    if size.fewest > 1:
        return f"{shown(gap.name)} needs {size_text(size, say)}{end}; each piece has to suit."
    return (
        f"{shown(gap.name)} needs {say.span(_seen(size.span, say.unit), ' of shim')}{_all_of_it(size)} that suits{end}."
    )


def size_to_get(job: Job, gap: Gap, say: Speaker) -> str:
    """`Get a shim of 2 to 9 thou that suits feed.`"""
    if (size := size_of(job, gap)) is None:
        return ""
    thinnest = [place.seat.thinnest for n, _ in gap.effects if (place := job.place[n]).seat and place.seat.thinnest]
    if thinnest and size.span.most is not None and size.span.most < min(thinnest):
        return (
            f"{shown(gap.name)} would need {size_text(size, say)}, thinner than its seat takes "
            f"({say(min(thinnest))}): look at its reading and assembly first."
        )
    what = size_text(size, say)
    several = "in all" in what and size.fewest <= 1
    what = what if size.fewest > 1 else f"{'shims' if several else 'a shim'} of {what}"
    suit = "suit" if several else "suits"
    return f"Get {what} that {suit} {listed([place for place, _ in gap.effects])}."


def _all_of_it(size: Size) -> str:
    """That a size counts what is in, beside which a piece so thick would be far too much, or takes its place."""
    if not size.held or size.fewest > 1:
        return ""
    stays = size.beside and (size.span.most is None or size.held < size.span.most)
    return " in all (with what is in)" if stays else " in place of what is in"


def size_text(size: Size, say: Speaker) -> str:
    """`21 to 24 thou`, `6 thou or more`, or the same of a stack."""
    text = f"{say.span(_seen(size.span, say.unit))}{_all_of_it(size)}"
    return stack_wanted(size.fewest, text) if size.fewest > 1 else text


def _seen(span: Span, unit: str) -> Span:
    return span if span.most is None else Span(*within(span.least, span.most, unit))


def at_most_pieces(pieces: int) -> str:
    """`of at most 3 pieces `, where that limit stands in the way."""
    return f"of at most {pieces} piece{'' if pieces == 1 else 's'} " if pieces else ""


def worn_words(stack: Stack, say: Speaker) -> str:
    """` T-2.00 is worn: marked 2.00 mm, it measures 1.78 mm.`, of each worn piece; empty where none is."""
    worn = (part for part in (say.stock[i].part for i in stack) if part.worn and part.marked is not None)
    return "".join(
        f" {shown(part.name)} is worn: marked {say(part.marked)}, it measures {say(part.thickness.best)}."
        for part in worn
        if part.marked is not None
    )


def worn_places(job: Job, say: Speaker) -> list[str]:
    """`drive thrust: T-2.00 is worn: marked 2.00 mm, it measures 1.78 mm.`, of each place that holds such a piece."""
    said = [(place.name, worn_words(place.installed, say)) for place in job.places]
    return [f"{shown(name)}:{worn}" for name, worn in said if worn]
