"""The questions of `shimopt new`, each answer checked as it is given; what was understood is shown before it counts."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial

from shimopt.cli.new_gaps import gap_again, gap_asked
from shimopt.cli.new_readings import asked_until, words_asked
from shimopt.cli.new_settled import settled
from shimopt.cli.terminal import asked, chosen, say
from shimopt.starting.new_answers import Answers, Limits, job_as_read, stock_of
from shimopt.starting.new_examples import EXAMPLES
from shimopt.starting.new_from import Base
from shimopt.starting.typed_text import (
    bore_of,
    least_typed,
    lengths_only,
    limit_of,
    parted_by_blanks,
    shaft_of,
    sizes_of,
    spoken,
)

# a comma between digits, where the first is no count: in 5x1,10 a new size begins
_COMMA = re.compile(r"(?<![\d.,x×*])(?<![x×*]\s)(\d+),(\d+)")
# what a line of the summary is about, what it says, and what asks for it again
_Line = tuple[str, str, Callable[[Answers], Answers]]


def ask(base: Base | None = None) -> Answers | None:
    """Ask for a whole job, less what `base` knows; None where somebody decided not to write it."""
    say("A new job. A wrong answer is mended at the end; Ctrl-C stops, nothing written.")
    answers = _titled(Answers(base=base))
    if base is None or not base.has_window:
        answers = _windowed(answers)
    while (gap := gap_asked(answers)) is not None:
        answers = replace(answers, gaps=[*answers.gaps, gap])
    if base is None:
        answers = _stocked(_seated(answers))
    while True:
        answers = settled(answers, _windowed, _stocked)
        lines = _understood(answers)
        say("Understood:")
        if taken := _taken(answers):
            say(f"     {taken}")
        for number, (what, line, _) in enumerate(lines, 1):
            say(f"  {number}  {what:8}{line}")
        question = "Write it? (yes, no, gap to add one, or a line by its number)"
        answer = asked(question, default="yes").strip().casefold()
        if answer in ("yes", "y"):
            return answers
        if answer in ("no", "n"):
            if chosen("Throw away all that was answered?", ("yes", "no"), "no") == "yes":
                return None
        elif answer == "gap":
            answers = _one_more(answers)
        elif answer.isascii() and answer.isdecimal() and 0 < int(answer) <= len(lines):
            answers = lines[int(answer) - 1][2](answers)
        else:
            say("  Please write yes, no, gap or one of the numbers.")


def _one_more(answers: Answers) -> Answers:
    gap = gap_asked(answers)
    return replace(answers, gaps=[*answers.gaps, gap]) if gap else answers


def _understood(answers: Answers) -> list[_Line]:
    """A line for each answer, as the job file will be read, and what asks for it again."""
    from shimopt.words.digits import read_digits
    from shimopt.words.reading_words import stands_off
    from shimopt.words.speaker import Speaker, listed

    job = job_as_read(answers, stock_of(answers))
    digits, base = read_digits(job, job.unit), answers.base
    say_in = Speaker(job.unit, ends=(digits, digits))
    lines: list[_Line] = [("job", f"{job.title}, in {spoken(job.unit)}", _titled)]
    if base is None or not base.has_window:
        window = job.gaps[0].window
        lines.append(("window", f"{say_in.window(window.stated_min, window.max)}, by {answers.source}", _windowed))
    for number, (gap, read) in enumerate(zip(job.gaps, answers.gaps, strict=True)):
        read_as = say_in.as_read(gap.reading.bracket)
        there = " + ".join(piece.name for piece in read.was_in) or "nothing"
        state = f"{there} came out" if read.covered else f"{there} in"
        reads = (
            f"without shims the {stands_off(read_as, say_in)}"
            if read.covered
            else f"between the parts, reads {say_in.about(gap).clearance(read_as.low, read_as.high)}"
        )
        lines.append(("gap", f"{read.name}: {reads}, {state}", partial(_again, number)))
    if base is None and any(not gap.covered for gap in answers.gaps):
        bore = f", their bore is {answers.bore:f} {job.unit}" if answers.bore is not None else ""
        shaft = f"sit on {answers.shaft}{bore}" if answers.shaft else "their bores are not checked"
        on_it = [gap.name for gap in answers.gaps if gap.seat]
        if answers.shaft and len(on_it) < sum(not gap.covered for gap in answers.gaps):
            shaft += f", at {listed(on_it, 4)}; elsewhere bores are not checked"
        lines.append(("shims", shaft, _seated))
    if base is None:
        on_hand = [f"{size:f} x {count}" for size, count in sorted(answers.sizes.items()) if count]
        lines.append(("drawer", ", ".join(on_hand) or "empty: everything is bought", _stocked))
    return lines


def _taken(answers: Answers) -> str:
    """What comes of another job, which nobody is asked for; empty where the job begins by itself."""
    from shimopt.words.speaker import Speaker, listed

    if (base := answers.base) is None:
        return ""
    told = []
    if base.has_window and answers.gaps:
        window = job_as_read(answers, stock_of(answers)).gaps[0].window
        told.append(f"window {Speaker(base.unit).window(window.stated_min, window.max)}, by {window.source}")
    if base.seats:
        told.append("its seat" if len(base.seats) == 1 else f"seats {listed(base.seats, 4)}")
    told.append("no drawer" if base.drawer is None else f"drawer {base.drawer}")
    return f"from {base.name}: {'; '.join(told)}"


def _titled(answers: Answers) -> Answers:
    title = words_asked("What is it called?", default=answers.title or "My rebuild")
    if answers.base is not None:
        return replace(answers, title=title, unit=answers.base.unit)
    unit = chosen("Unit of your blades and shims", ("thou", "mm", "in", "um"), answers.unit or "thou")
    return replace(answers, title=title, unit=unit)


def _windowed(answers: Answers) -> Answers:
    window = _window(answers.unit)
    say("It is for every gap; one with a window of its own gets that in job.toml afterwards: shimopt help job-file.")
    source = words_asked("Who states this window (manual and page, drawing, letter)?", default=answers.source or None)
    return replace(answers, window=window, source=source)


def _window(unit: str) -> Limits:
    preload = f"preload {EXAMPLES[unit].preload}"
    while True:
        low = asked_until(
            f"Least clearance allowed, in {spoken(unit)} (none; least to largest: {EXAMPLES[unit].window}; {preload})",
            partial(least_typed, unit=unit),
        )
        if isinstance(low, tuple):
            return low
        high = asked_until(f"Largest clearance allowed, in {spoken(unit)} (or none)", partial(limit_of, unit=unit))
        if low is None and high is None:
            say("  One of the two must be a number.")
        elif low is not None and high is not None and low > high:
            say("  The least is above the largest.")
        else:
            return low, high


def _again(at: int, answers: Answers) -> Answers:
    return gap_again(answers, at)


def _seated(answers: Answers) -> Answers:
    """The shaft that the shims sit on, and their bore; a pack under a cover is flat."""
    if all(gap.covered for gap in answers.gaps):
        return answers
    unit = answers.unit
    say(f"The shaft that the shims sit on, to check that their bores go over it: {EXAMPLES[unit].shaft}.")
    shaft = asked_until(
        f"Its diameter, in {spoken(unit)} (none: bores are not checked)",
        lambda answer: shaft_of(answer, unit),
        default=answers.shaft or "none",
    )
    on_it = _on_this_shaft(answers) if shaft else ()
    bore = (
        asked_until(
            f"Bore of your shims, in {spoken(unit)} (none: not measured)",
            partial(bore_of, unit=unit, shaft=shaft),
            "none",
        )
        if shaft
        else None
    )
    gaps = [gap if gap.covered else replace(gap, seat="seat" if gap.name in on_it else "") for gap in answers.gaps]
    return replace(answers, shaft=shaft, bore=bore, gaps=gaps)


def _on_this_shaft(answers: Answers) -> Sequence[str]:
    """The gaps whose shims sit on the shaft that was named: another one is written into the job file afterwards."""
    names = [gap.name for gap in answers.gaps if not gap.covered]
    if len(names) == 1:
        return names

    def read(answer: str) -> Sequence[str]:
        said = [part.strip() for part in answer.split(",")]
        if said == ["all"]:
            return names
        if unknown := [name for name in said if name not in names]:
            raise ValueError(f"Please write all, or names with commas between; there is no {unknown[0]!r} among them.")
        return said

    return asked_until(f"Which gaps sit on it? (all, or some of {', '.join(names)})", read, "all")


def _stocked(answers: Answers) -> Answers:
    """The sizes on hand."""
    unit = answers.unit
    sizes = asked_until(
        f"The drawer, in {spoken(unit)}: size x count ({EXAMPLES[unit].sizes}; none: it is empty)",
        lambda answer: lengths_only(sizes_of(_commas_asked(parted_by_blanks(answer))), unit),
    )
    return replace(answers, sizes=sizes, measured=frozenset())


def _commas_asked(answer: str) -> str:
    """The answer with a decimal point for every comma that turns out to be one: `1,2 x 3` may mean 1.2, or 1 and 2.

    Behind a nought it is one, and where semicolons part the sizes: nobody is asked.
    """
    for whole, part in [] if ";" in answer else _COMMA.findall(answer):
        question = f"  Is {whole},{part} one size, {whole}.{part}, not {whole} and {part}?"
        if int(whole) and chosen(question, ("yes", "no")) == "yes":
            answer = answer.replace(f"{whole},{part}", f"{whole}.{part}", 1)
    return answer
