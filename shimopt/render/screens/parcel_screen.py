"""A parcel on a terminal: is it all there and enough, then line by line, what is off, what is lost, what to do."""

from __future__ import annotations

from shimopt.errors import shown
from shimopt.receiving import Parcel
from shimopt.render.screens.layout import Line, bold, plain, section, spaced
from shimopt.words.order_limits_words import unanswered_words
from shimopt.words.parcel_words import (
    again_words,
    against_words,
    asked_words,
    held_words,
    lost_words,
    next_steps,
    owed_words,
    parcel_headline,
)
from shimopt.words.speaker import Speaker, ended

__all__ = ["parcel_lines"]


def parcel_lines(parcel: Parcel, unit: str, width: int, *, written: bool, with_card: bool) -> list[Line]:
    """All lines of the screen; `written` where the pieces are in the drawer, `with_card` where the card is made."""
    say = Speaker(unit, parcel.stock)
    titles = ended(" + ".join(shown(job.title) for job in parcel.jobs))
    answer = bold(parcel_headline(parcel), width)
    answer += plain(f"{titles} {against_words(parcel)} All lengths in {unit}.", width)
    lost = [f"{lost_words(parcel, one, say)}." for one in parcel.lost]
    lost += [unanswered_words(parcel.now, one) for one in parcel.left]
    odd = [held_words(parcel, one, say) for one in parcel.held if one.kind != "as ordered"]
    return spaced(
        (
            answer,
            section("Ordered", [asked_words(parcel, n) for n in range(len(parcel.asked.lines))], width),
            section("Not as ordered", odd, width),
            section("Owed by the supplier", owed_words(parcel), width),
            section("No longer served", lost, width),
            section("To make it enough", again_words(parcel), width),
            section("Next", next_steps(parcel, written=written, with_card=with_card), width),
        )
    )
