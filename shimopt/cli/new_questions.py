"""The questions of `shimopt new`, each answer checked as it is given; what was understood is shown before it counts."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from functools import partial

from shimopt.cli.new_answers import Answers, GapRead, Limits, PieceIn, job_as_read, named_size, stock_of
from shimopt.cli.new_doubts import reading_doubted, settled
from shimopt.cli.new_from import Base
from shimopt.cli.new_readings import NONE, asked_until, limit_of, number_of, reading_asked, shaft_of
from shimopt.cli.terminal import asked, chosen, say
from shimopt.errors import InputError, nearest_name

# a comma between digits, where the first is no count: in 5x1,10 a new size begins
_COMMA = re.compile(r"(?<![\d.,x×*])(?<![x×*]\s)(\d+),(\d+)")
_SIZE = re.compile(r"\s*([0-9.]+)\s*(?:[x×*]\s*([0-9]+))?\s*", re.IGNORECASE)
_PIECE = re.compile(r"\s*(?:([0-9]+)\s*[x×*]\s*)?(.+?)\s*", re.IGNORECASE)
# what a line of the summary is about, what it says, and what asks for it again
_Line = tuple[str, str, Callable[[Answers], Answers]]
_PRELOAD = re.compile(r"preload\s+([0-9.,]+)\s+to\s+([0-9.,]+)", re.IGNORECASE)


def ask(base: Base | None = None) -> Answers | None:
    """Ask for a whole job, less what `base` knows; None where somebody decided not to write it."""
    say("A new job. Press Ctrl-C to stop; nothing is written before the last answer.")
    answers = _titled(Answers(base=base))
    if base is None or not base.has_window:
        answers = _windowed(answers)
    answers = _seated(_covered(answers))
    while (gap := _gap(answers)) is not None:
        answers = replace(answers, gaps=[*answers.gaps, gap])
    if base is None:
        answers = _stocked(answers)
    while True:
        answers = settled(answers, _windowed, _stocked)
        lines = _understood(answers)
        say("Understood:")
        if taken := _taken(answers):
            say(f"     {taken}")
        for number, (what, line, _) in enumerate(lines, 1):
            say(f"  {number}  {what:8}{line}")
        answer = asked("Write it? (yes, no, or the number of a line to answer it again)", default="yes").strip()
        if answer.casefold() in ("yes", "y"):
            return answers
        if answer.casefold() in ("no", "n"):
            return None
        if answer.isascii() and answer.isdecimal() and 0 < int(answer) <= len(lines):
            answers = lines[int(answer) - 1][2](answers)
        else:
            say("  Please write yes, no or one of the numbers.")


def _understood(answers: Answers) -> list[_Line]:
    """A line for each answer, as the job file will be read, and what asks for it again."""
    from shimopt.words.reading_words import stands_off
    from shimopt.words.speaker import Speaker

    job = job_as_read(answers, stock_of(answers))
    say_in, base = Speaker(job.unit), answers.base
    lines: list[_Line] = [("job", f"{job.title}, in {job.unit}", _titled)]
    if base is None or not base.has_window:
        window = job.gaps[0].window
        lines.append(("window", f"{say_in.window(window.stated_min, window.max)}, by {answers.source}", _windowed))
    where = "under a cover" if answers.under_cover else "between the parts"
    unchecked = "" if base or answers.under_cover else "; bores are not checked"
    seat = f"; they sit on {answers.shaft}" if answers.shaft else unchecked
    lines.append(("shims", where + seat, lambda now: _seated(_covered(now))))
    for number, (gap, read) in enumerate(zip(job.gaps, answers.gaps, strict=True)):
        low, high = gap.reading.bracket.low, gap.reading.bracket.high
        there = " + ".join(piece.name for piece in read.was_in) or "nothing"
        state = f"{there} came out" if answers.under_cover and read.was_in else f"{there} in"
        reads = (
            f"without shims the {stands_off(gap.reading.bracket, say_in)}"
            if answers.under_cover
            else f"reads {say_in.about(gap).clearance(low, high)}"
        )
        text = f"{read.name}: {reads}, {state}"
        lines.append(("gap", text, partial(_gap_again, number)))
    if base is None:
        on_hand = [f"{count} x {size:f}" for size, count in sorted(answers.sizes.items()) if count]
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
        told.append(f"{'seat' if len(base.seats) == 1 else 'seats'} {listed(base.seats, 4)}")
    told.append("no drawer" if base.drawer is None else f"drawer {base.drawer}")
    return f"from {base.name}: {'; '.join(told)}"


def _titled(answers: Answers) -> Answers:
    title = _text("What is it called?", default=answers.title or "My rebuild")
    if answers.base is not None:
        return replace(answers, title=title, unit=answers.base.unit)
    unit = chosen("Unit of your blades and shims", ("thou", "mm", "in", "um"), answers.unit or "thou")
    return replace(answers, title=title, unit=unit)


def _windowed(answers: Answers) -> Answers:
    window = _window(answers.unit)
    source = _text("Who states this window (manual and page, drawing, letter)?", default=answers.source or None)
    return replace(answers, window=window, source=source)


def _window(unit: str) -> Limits:
    while True:
        low = asked_until(f"Least clearance allowed, in {unit} (or none; or preload 2 to 3)", _limit)
        if isinstance(low, tuple):
            return low
        high = asked_until(f"Largest clearance allowed, in {unit} (or none)", limit_of)
        if low is None and high is None:
            say("  One of the two must be a number.")
        elif low is not None and high is not None and low > high:
            say("  The least is above the largest.")
        else:
            return low, high


def _limit(answer: str) -> Decimal | Limits | None:
    """A least clearance, or a window of preload as a whole."""
    found = _PRELOAD.fullmatch(answer.strip())
    if found is None:
        return limit_of(answer)
    least, most = number_of(found[1]), number_of(found[2])
    if not 0 < least <= most:
        raise ValueError("Please write preload and its least and most, such as preload 2 to 3.")
    return -most, -least


def _covered(answers: Answers) -> Answers:
    say("Shims go between the parts where the gap is read, or under a cover that opens it.")
    where = chosen("Where do these go?", ("gap", "cover"), "gap")
    return replace(answers, under_cover=where == "cover")


def _seated(answers: Answers) -> Answers:
    """The shaft that the shims sit on, and their bore, where no seat is known; a pack under a cover is flat."""
    if answers.base is not None:
        return answers
    if answers.under_cover:
        return replace(answers, shaft="", bore=None, gaps=[replace(gap, seat="") for gap in answers.gaps])
    unit = answers.unit
    say("To have bores checked, measure the shaft that the shims sit on: 16, 16 ± 0.01 mm, 16 h6.")
    shaft = asked_until(
        f"Its diameter, in {unit} (none: bores are not checked)",
        lambda answer: shaft_of(answer, unit),
        default="none",
    )
    bore = (
        asked_until(f"Bore of your shims, in {unit} (none: not measured)", limit_of, default="none") if shaft else None
    )
    gaps = [replace(gap, seat="seat" if shaft else "") for gap in answers.gaps]
    return replace(answers, shaft=shaft, bore=bore, gaps=gaps)


def _gap_again(at: int, answers: Answers) -> Answers:
    others = [gap for number, gap in enumerate(answers.gaps) if number != at]
    gap = _gap(replace(answers, gaps=others), answers.gaps[at].name)
    return replace(answers, gaps=[*answers.gaps[:at], *([gap] if gap else []), *answers.gaps[at + 1 :]])


def _gap(answers: Answers, name: str | None = None) -> GapRead | None:
    """The next gap, or one again by its name; None where there is none."""
    known = [gap.name for gap in answers.gaps]
    question = "Name of the next gap (done if there is none)" if known and not name else "Name of the gap"
    while True:
        called = _text(question, default=name or ("done" if known else None))
        if known and called == "done":
            return None
        if called not in known:
            break
        say("  This name is taken.")
    seat = _seat(answers)
    before = answers.gaps[-1].form if answers.gaps else None
    while True:
        form, table = reading_asked(answers.unit, under_cover=answers.under_cover, before=before)
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
    return replace(gap, checked=doubt is not None, was_in=_was_in(answers))


def _seat(answers: Answers) -> str:
    if answers.base is None:
        return "seat" if answers.shaft else ""
    seats = answers.base.seats
    if len(seats) < 2:
        return seats[0] if seats else ""
    return chosen("  Its seat", seats, seats[0])


def _was_in(answers: Answers) -> tuple[PieceIn, ...]:
    """The pieces that are in, or that came out from under the cover."""
    held = "What lay under the cover before" if answers.under_cover else "Shims in it now"
    names = [line.part.name for line in answers.base.stock.lines] if answers.base else None
    like = "10 + 2 x 3" if names is None else f"{names[0] if names else 'S-10'} + 2 x {names[-1] if names else 'S-05'}"

    def read(answer: str) -> tuple[PieceIn, ...]:
        if answer.strip().casefold() in NONE:
            return ()
        return tuple(piece for part in answer.split("+") for piece in _pieces(part, answers.unit, names))

    return asked_until(f"  {held} (+ between: {like}; none)", read, default="none")


def _pieces(part: str, unit: str, names: list[str] | None) -> Iterator[PieceIn]:
    found = _PIECE.fullmatch(part)
    if found is None or not 0 < int(found[1] or 1) <= 100:
        raise ValueError("Please write pieces with + between, such as 10 + 2 x 3.")
    name, size = found[2], Decimal(0)
    if names is None:
        size = number_of(name.casefold().removesuffix(unit)).normalize()
        if not size:
            raise ValueError("Sizes are above zero.")
        name = named_size(size, unit)
    elif name not in names:
        meant = nearest_name(name, names)
        raise ValueError(f"The drawer has no {name}{f': did you mean {meant}?' if meant else '.'}")
    yield from [PieceIn(name, size)] * int(found[1] or 1)


def _stocked(answers: Answers) -> Answers:
    """The sizes on hand; what is in the machine alone is a row of none."""
    unit = answers.unit
    sizes = asked_until(
        f"The drawer, in {unit}: size x count (2 x 4, 5 x 1; none: it is empty)",
        lambda answer: _no_longer_than_lengths(sizes_of(_commas_asked(answer)), unit),
    )
    sizes |= {piece.size: 0 for gap in answers.gaps for piece in gap.was_in if piece.size not in sizes}
    return replace(answers, sizes=sizes, measured=frozenset())


def _no_longer_than_lengths(sizes: dict[Decimal, int], unit: str) -> dict[Decimal, int]:
    from shimopt.lengths import LengthError, to_nm

    try:
        if not all(to_nm(Fraction(size), unit) for size in sizes):
            raise ValueError("Sizes are at least a nanometre.")
    except LengthError as error:
        raise ValueError(f"Please write ordinary sizes: {error.rule}.") from None
    return sizes


def _text(question: str, default: str | None = None) -> str:
    def read(answer: str) -> str:
        clean = "".join(ch for ch in answer if ch.isprintable()).strip()
        if not clean:
            raise ValueError("Please write a few words.")
        if not clean.strip("? "):
            raise ValueError("Please write who says so: a manual and page, a drawing, whose estimate.")
        return clean

    return asked_until(question, read, default)


def _commas_asked(answer: str) -> str:
    """The answer with a decimal point for every comma that turns out to be one: `1,2 x 3` may mean 1.2, or 1 and 2."""
    for whole, part in _COMMA.findall(answer):
        if chosen(f"  Is {whole},{part} one size, {whole}.{part}, not {whole} and {part}?", ("yes", "no")) == "yes":
            answer = answer.replace(f"{whole},{part}", f"{whole}.{part}", 1)
    return answer


def sizes_of(answer: str) -> dict[Decimal, int]:
    """Sizes and counts from an answer such as `2 x 4, 5 x 1, 10`, or `none`. Raises ValueError."""
    sizes: dict[Decimal, int] = {}
    if answer.strip().casefold() in NONE:
        return sizes
    for part in answer.split(","):
        found = _SIZE.fullmatch(part)
        if found is None:
            raise ValueError(f"Please write sizes like 2 x 4 with commas between; {part.strip()!r} is not one.")
        size, count = number_of(found[1]), int(found[2] or 1)
        if not size or not 0 < count <= 100_000:
            raise ValueError("Sizes and counts are above zero.")
        size = size.normalize()
        sizes[size] = sizes.get(size, 0) + count
    return sizes
