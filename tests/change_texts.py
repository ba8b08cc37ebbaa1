"""What texts say of the changes of a plan, taken apart by no function that wrote them, and the list in its JSON."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Any

from shimopt.arithmetic.changes import BENCH, DRAWER, ORDER

Moved = Counter[tuple[str, str]]  # a piece, and where it comes from or goes
Change = dict[str, Any]
Told = tuple[Counter[str], Counter[str], Moved]  # what comes out, what stays, what goes in and where from

_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
_HEADS = ("read", "out", "leave", "in", "fit", "from", "then", "allowed")
# what the letter calls what becomes of places
_BECOMES = {
    r"(?:gets? a shim|gets? shims)": "filled",
    r"gets? back what came out": "back",
    r"gets? back some of what came out": "some back",
    r"gets? (?:one shim more|more shims)": "added",
    r"gets? (?:another shim|other shims)": "swapped",
    r"loses? (?:its shims?|their shims)": "emptied",
    r"gets? fewer shims": "fewer",
    r"keeps? (?:its shims?|their shims)": "left",
    r"(?:is|are) left as (?:it is|they are)": "empty",
}
_ALONE = {
    "(?<!some of )what came out for the reading goes back in": "back",
    "some of what came out for the reading goes back in, and some stays out": "some back",
    "another shim goes in": "swapped",
    "other shims go in": "swapped",
    "what was in comes out": "emptied",
    "some of what was in comes out": "fewer",
    "what is in stays in": "left",
    "nothing is fitted": "empty",
    **{f"it {said}": kind for said, kind in _BECOMES.items()},
}


def named(piece: dict[str, Any]) -> str:
    return f"{piece['part']} [{piece['piece']}]" if piece["piece"] else str(piece["part"])


def pieces(text: str) -> Counter[str]:
    """`2 x S-1 + S-2` as counts; what tells a measured piece from another of its name left out."""
    text = re.sub(r" \(measured [^()]*\)", "", text)
    found: Counter[str] = Counter()
    for part in [] if text == "nothing" else text.split(" + "):
        many = re.fullmatch(r"(\d+) x (.+)", part)
        found[many[2] if many else part] += int(many[1]) if many else 1
    return found


def one_kind(text: str) -> tuple[str, int]:
    [(name, count)] = pieces(text).items()
    return name, count


def counted(entries: Iterable[dict[str, Any]]) -> Counter[str]:
    """Entries of the JSON as counts."""
    found: Counter[str] = Counter()
    for entry in entries:
        found[named(entry)] += entry["pieces"]
    return found


def listed(change: Change) -> tuple[Moved, Counter[str], Moved]:
    """What the JSON says of a place."""
    out: Moved = Counter()
    into: Moved = Counter()
    for piece in change["out"]:
        out[named(piece), piece["to"]] += piece["pieces"]
    for piece in change["in"]:
        into[named(piece), piece["from"]] += piece["pieces"]
    return out, counted(change["stays"]), into


def check_short(lines: Sequence[str], changes: Mapping[str, Change], benches: Iterable[str]) -> None:
    """The tables of the short screen, row by row; `benches` are the places out of which pieces came for the reading."""
    told = _rows(lines, changes, benches)
    assert told.keys() == changes.keys()
    for name, change in changes.items():
        out, stays, _ = listed(change)
        into: Moved = Counter()
        for piece in change["in"]:
            came = {DRAWER: piece["at"] or DRAWER, ORDER: "to buy"}.get(piece["from"], piece["from"])
            into[named(piece), came] += piece["pieces"]
        assert told[name] == (Counter(piece for piece, _ in out.elements()), stays, into), name
    said = [re.fullmatch(r"! (.+?): (.+), out for the reading, stays? out\.", line) for line in lines]
    stays_out = {one[1]: pieces(one[2]) for one in said if one}
    assert stays_out == {name: counted(c["stays_out"]) for name, c in changes.items() if c["stays_out"]}


def _rows(lines: Sequence[str], names: Iterable[str], benches: Iterable[str]) -> dict[str, Told]:
    """What the row of every place says; a row that names no source has the one that is told for all."""
    everywhere = next(
        (one[1] for line in lines if (one := re.search(r"All pieces (?:from )?(?:the )?(.+)\.$", line))), ""
    )
    told: dict[str, Told] = {}
    head: dict[str, slice] = {}
    for line in lines:
        words = [(one[0], one.start()) for one in re.finditer(r"\S+", line)]
        if line.startswith(" ") and words and words[0][0] in _HEADS:
            starts = [(word, at) for word, at in words if word in _HEADS]
            ends = [at for _, at in starts[1:]] + [None]
            head = {word: slice(at, end) for (word, at), end in zip(starts, ends, strict=True)}
            first = starts[0][1]
        elif not line:
            head = {}
        elif head and (name := line[:first].strip()) in names and name not in told:
            cells = {word: line[at].strip() for word, at in head.items()}
            told[name] = _row(cells, everywhere, benches)
    return told


def _row(cells: Mapping[str, str], everywhere: str, benches: Iterable[str]) -> Told:
    goes_in, source = cells.get("in", cells.get("fit", "")), cells.get("from", "") or everywhere
    out, stays = pieces(cells.get("out") or "nothing"), pieces(cells.get("leave") or "nothing")
    source = source.replace("bench, came out here", BENCH)
    for place in benches:
        source = source.replace(f"bench, out of {place}", BENCH)
    into: Moved = Counter()
    if source == "leave":
        stays += pieces(goes_in)
    elif goes_in not in ("", "leave", "nothing"):
        whole = pieces(goes_in)
        # in the order of the stack
        beside, each = source.split(" + "), source.split(", ")
        if len(whole) == len(beside) > 1:
            into.update({(piece, one): whole[piece] for piece, one in zip(whole, beside, strict=True)})
        elif len(each) == 1:
            into.update({(piece, source): many for piece, many in whole.items()})
        for one in each if len(each) > 1 and not into else []:
            said = re.fullmatch(rf"(.+) \((?:(\d+) x )?({'|'.join(map(re.escape, whole))})\)", one)
            assert said is not None
            came, many, piece = said.groups()
            into[piece, came] += int(many or 1)
        assert Counter(piece for piece, _ in into.elements()) == whole
    return out, stays, into


def check_answer(text: str, changes: Mapping[str, Change], totals: Mapping[str, int]) -> None:
    """The first line of a screen or sheet: which places are opened, and how many pieces go where."""
    text = re.sub(r" \(measured [^()]*\)", "", text)
    changed = [name for name, change in changes.items() if change["out"] or change["in"]]
    said = 0
    if many := re.search(
        r"\b(?:open (\d+))?(?: and )?(?:fill (\d+))? of (\d+)(?: \([^()]*\))?: (.+)", text, re.IGNORECASE
    ):
        said += 1
        opened, filled, places = (int(many[at] or 0) for at in (1, 2, 3))
        assert (opened, filled, places) == (totals["places_opened"], totals["places_filled"], len(changes))
        flows = f", {many[4]}"
        between = re.search(r", (\w+) shims? changes? places", flows)
        assert (_number(between[1]) if between else 0) == totals["pieces_between_places"]
        for words, total in (
            (r", out for the reading, go(?:es)? in\b", "pieces_from_bench"),
            (r" comes? from the drawer\b", "pieces_from_drawer"),
            (r" (?:is|are) to buy\b", "pieces_to_buy"),
        ):
            flow = re.search(rf", ([^,:;]+?){words}", flows)
            assert (_pieces_of(flow[1]) if flow else 0) == totals[total]
        goes = re.search(r", ([^,:;]+?) comes? out\b", flows)
        # what goes back is told where nothing new comes for it
        new = totals["pieces_from_drawer"] + totals["pieces_to_buy"]
        assert (_pieces_of(goes[1]) if goes else 0) == (0 if new else totals["pieces_to_drawer"])
    if fits := re.search(r"\bfit (\d+) (?:pieces?|shims?)(?:,? in (?:(\d+)|every) )?", text, re.IGNORECASE):
        said += 1
        assert int(fits[1]) == sum(sum(counted(change["in"]).values()) for change in changes.values())
        assert int(fits[2] or len(changed)) == len(changed) == totals["places_filled"]
    if shift := re.search(r"\bmove \S+ \S+ from (.+?) to (.+?)(?: \(|[.;)]|$)", text, re.IGNORECASE):
        said += 1
        assert sorted(changed) == sorted((shift[1], shift[2]))
    if packs := re.search(r"\bmake the pack at (.+?) \S+ \S+ thinner and that at (.+?) as much", text, re.IGNORECASE):
        said += 1
        assert sorted(changed) == sorted((packs[1], packs[2]))
    # one or a few places, each with what is done there
    named = 0
    for place in changed:
        out, came = (counted(changes[place][key]) for key in ("out", "in"))
        put = rf"take ((?:(?!\btake\b).)+?) out of {re.escape(place)}\b(?: and put (.+?) in\b)?"
        if one := re.search(put, text, re.IGNORECASE):
            named += 1
            assert (pieces(one[1]), pieces(one[2] or "nothing")) == (out, came)
        elif one := re.search(
            rf"\b(?:fit|add|and) (?!that at\b)((?:(?!\b(?:fit|add|and)\b).)+?) at {re.escape(place)}\b",
            text,
            re.IGNORECASE,
        ):
            named += 1
            assert (Counter[str](), pieces(one[1])) == (out, came)
    assert named in (0, len(changed)), text
    said += named
    # where windows and readings are looked at first nothing is told to be fitted
    waits = "fit nothing yet" in text.lower()
    assert bool(said) == (bool(changed) and not waits), text


def _number(word: str) -> int:
    return _NUMBERS.index(word.lower()) if word.lower() in _NUMBERS else int(word)


def _pieces_of(text: str) -> int:
    """How many pieces are in `three shims`, or in `2 x S-1 and S-2`."""
    if shims := re.fullmatch(r"(\w+) shims", text):
        return _number(shims[1])
    return sum(pieces(text.replace(" and ", " + ")).values())


def check_letters_answer(
    text: str, changes: Mapping[str, Change], moves: Iterable[Mapping[str, Any]], wrong: Collection[str]
) -> None:
    """The first sentence of a letter: how many places get what, and which; of `wrong` gaps not that they are left.

    Where windows only seem to fight while something stands to be settled, it tells of no piece at all.
    """
    if text.startswith("Nothing is fitted yet:"):
        # no place is named, nor what would go in
        assert not re.search("|".join(_BECOMES), text, re.IGNORECASE), text
        return
    if text.startswith("What can be put right can be said once that is settled."):
        assert not re.search("|".join((*_BECOMES, *_ALONE)), text, re.IGNORECASE), text
        return
    own = Counter(move["to"] for move in moves if move["from"] == BENCH and move.get("out_of") == move["to"])
    became = {name: _kind(change, own[name]) for name, change in changes.items()}
    changed = [name for name, kind in became.items() if kind not in ("left", "empty")]
    told: Counter[str] = Counter()
    words = "|".join(_NUMBERS)
    for pattern, kind in _BECOMES.items():
        for one in re.finditer(
            rf"\b({words}|\d+)(?: places?)? {pattern}(?![^;.(]*\bout\b)(?: \(([^()]*)\))?", text, re.IGNORECASE
        ):
            told[kind] += _number(one[1])
            names = re.split(r", | and ", one[2]) if one[2] else []
            assert {became[name] for name in names} <= {kind}
    if told:
        counted_once = [kind for name, kind in became.items() if name not in wrong or kind not in ("left", "empty")]
        assert told == Counter(counted_once), text
        return
    if packs := re.search(r"set by (?:a new pack|new packs) at (.+?)\.", text, re.IGNORECASE):
        assert sorted(re.split(r", | and ", packs[1])) == sorted(changed)
    elif over := re.search(
        r"(?:of shim moves from|the pack at) (.+?) (?:to|gets \S+ \S+ thinner, that at) (.+?)(?: as much thicker)?\.",
        text,
        re.IGNORECASE,
    ):
        assert sorted((over[1], over[2])) == sorted(changed)
    elif alone := [said for said in _ALONE if re.search(rf"\b{said}", text, re.IGNORECASE)]:
        # "some of what was in comes out" holds "what was in comes out"
        assert set(became.values()) == {_ALONE[max(alone, key=len)]}
    else:
        assert not changed, text


def _kind(change: Change, own: int) -> str:
    """What becomes of a place; `own` how many of its own pieces go back in from the bench."""
    out, stays, into = (sum(counted(change[key]).values()) for key in ("out", "stays", "in"))
    if not out and not stays:
        back = "some back" if change["stays_out"] else "back"
        return "empty" if not into else back if own == into else "filled"
    if not into:
        return "left" if not out else "fewer" if stays else "emptied"
    return "swapped" if out else "added"
