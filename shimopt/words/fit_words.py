"""What is said of a part on a seat, one sentence a finding, and what is said where a dimension is missing."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction

from shimopt.errors import shown
from shimopt.seats import Finding
from shimopt.words.speaker import Speaker

__all__ = ["FIT_WORDS", "MISSING", "fit_words", "missing_words", "not_checked_words", "number_text", "share_text"]

# what a rule lacked, as a person would name it
MISSING = {
    "no_seat": "no seat",
    "no_shaft_diameter": "no shaft diameter",
    "no_counterbore": "no counterbore",
    "no_face": "no face",
    "no_groove": "no groove",
    "no_fillet": "no fillet",
    "no_next_ring": "no next ring",
    "no_limit_pressure": "no limit pressure",
    "no_keyway": "no keyway or tab",
    "no_bore": "no bore diameter of the part",
    "no_outside": "no outside diameter of the part",
    "no_edge": "no edge (chamfer) of the part",
    "no_form": "no form of the part",
    "no_material": "no material of the part",
    "no_hardness": "no hardness of the part",
    "other_hardness_scale": "the hardness is stated in another scale",
}
_OF_PARTS = {key for key, words in MISSING.items() if words.endswith("of the part")} | {"other_hardness_scale"}


def share_text(share: Fraction) -> str:
    """A share in per cent; never all or nothing where it is not."""
    percent = round(float(share) * 100)
    if 0 < share < 1:
        percent = min(99, max(1, percent))
    return f"{percent} %"


def number_text(number: Fraction) -> str:
    """A number with three figures or so, without an exponent."""
    value = float(number)
    return f"{value:,.0f}" if value >= 100 else f"{value:.3g}"


def missing_words(code: str) -> str:
    """What is missing, as a few words."""
    return MISSING[code]


def not_checked_words(texts: Mapping[str, str]) -> str:
    """All that could not be checked at one place: `texts` maps "rule: what is missing" to how many parts it touches."""
    missing = {key.partition(": ")[2]: count for key, count in texts.items()}
    seat = [words for code, words in MISSING.items() if code in missing and code not in _OF_PARTS]
    parts = [f"{words} ({missing[code]})" for code, words in MISSING.items() if code in missing and code in _OF_PARTS]
    rules = sorted({key.partition(": ")[0] for key in texts})
    return f"not checked ({', '.join(rules)}): {', '.join([*seat, *parts])}"


class _Say:
    """A finding's numbers as text in one unit."""

    def __init__(self, finding: Finding, say: Speaker) -> None:
        self.finding, self.say = finding, say

    def __call__(self, key: str) -> str:
        return self.say(self.finding.lengths[key])

    def share(self, key: str) -> str:
        return share_text(self.finding.numbers[key])

    def number(self, key: str) -> str:
        return number_text(self.finding.numbers[key])

    def text(self, key: str) -> str:
        return shown(self.finding.texts[key])


def _hardness(say: _Say) -> str:
    least = f", at least {say.text('least')} is wanted" if say.finding.texts["least"] else ""
    return f"is {say.text('hardness')} against a face that turns{least}"


def _needs_tab(say: _Say) -> str:
    return f"has no tab (it is a {say.text('form')}), and this seat holds its shims by one"


def _order(say: _Say) -> str:
    why = "as the seat asks" if say.finding.texts["stated"] else "common practice"
    return f"fit the pieces in the order listed, {say.text('order')} ({why})"


def _not_as_labelled(say: _Say) -> str:
    what = {"thickness": "thick", "inner": "in the bore", "outer": "outside"}[say.finding.texts["what"]]
    other = f"; it looks like {say.text('other')}" if say.finding.texts["other"] else ""
    return f"is not what its label says: {say('is')} {what}, the label means {say('least')} to {say('most')}{other}"


def _memory(say: _Say) -> str:
    note = f" ({say.text('note')})" if say.finding.texts["note"] else ""
    return f"its catalogue figures are not all from a document{note}: measure it before it is fitted"


FIT_WORDS: Mapping[str, Callable[[_Say], str]] = {
    "bore_too_small": lambda s: (
        f"does not go on: its bore can be as small as {s('least_bore')}, the shaft as large as {s('largest_shaft')}"
    ),
    "bore_too_large": lambda s: (
        f"hangs off centre: bore {s('bore')} on shaft {s('shaft')} leaves at least {s('least_play')} of play, "
        f"allowed are {s('allowed')}"
    ),
    "bore_may_be_too_large": lambda s: (
        f"may hang off centre: bore {s('bore')} on shaft {s('shaft')} can leave {s('most_play')} of play, "
        f"allowed are {s('allowed')}; measure the bore"
    ),
    "outside_too_large": lambda s: (
        f"does not go into its counterbore: it can be {s('largest_outside')} outside, the counterbore as small as "
        f"{s('least_bore')}"
    ),
    "rubs_next_ring": lambda s: (
        f"can rub on the next ring: outside {s('outside')}, next ring {s('next_ring')}; pushed to one side by "
        f"{s('shift')} it reaches {s('over')} too far"
    ),
    "near_next_ring": lambda s: (
        f"comes within {s('clear')} of the next ring when pushed {s('shift')} to one side; keep {s('allowed')} clear"
    ),
    "drops_into_groove": lambda s: (
        f"drops into the groove: over its whole width ({s('from')} to {s('to')} from the face) the shaft is only "
        f"{s('groove')}, which leaves {s('play')} of play, allowed are {s('allowed')}"
    ),
    "stands_over_groove": lambda s: (
        f"stands over a groove: {s.share('share')} of its width is not carried, from {s('from')} to {s('to')} from the "
        f"face; at most {s.share('allowed_share')} is allowed"
    ),
    "stack_over_groove": lambda s: (
        f"comes to stand over a groove in this stack: {s.share('share')} of its width is not carried, from {s('from')} "
        f"to {s('to')} from the face"
    ),
    "stands_on_fillet": lambda s: (
        f"stands on the fillet: radius {s('fillet')} under an edge broken by only {s('edge')} lifts it {s('lift')} off "
        "the face, even in the middle; it would tilt and read falsely tight"
    ),
    "may_stand_on_fillet": lambda s: (
        f"can stand on the fillet: radius {s('fillet')} under an edge broken by only {s('edge')} lifts it up to "
        f"{s('lift')} off the face when it hangs to one side"
    ),
    "off_centre_uncovered": lambda s: (
        f"leaves one side of the face bare: pushed {s('shift')} to one side, nothing of the {s('centred')} wide "
        "contact is left opposite"
    ),
    "off_centre_uneven": lambda s: (
        f"bears unevenly: pushed {s('shift')} to one side, {s('width')} of the {s('centred')} wide contact is left "
        f"opposite; at least {s.share('allowed_share')} is wanted"
    ),
    "carries_nothing": lambda _: "does not meet the face that it should bear on",
    "carries_too_little": lambda s: (
        f"carries only {s.share('share')} of the face at its worst; at least {s.share('allowed_share')} is wanted"
    ),
    "pressure_too_high": lambda s: (
        f"presses too hard: {s.number('load')} N on {s.number('area')} mm² is {s.number('pressure')} N/mm², allowed "
        f"are {s.number('limit')} N/mm² ({s.text('source')})"
    ),
    "pressure_may_be_too_high": lambda s: (
        f"can press too hard when it hangs to one side: {s.number('load')} N on {s.number('area')} mm² is "
        f"{s.number('pressure')} N/mm², allowed are {s.number('limit')} N/mm² ({s.text('source')})"
    ),
    "thin_wall": lambda s: (
        f"has a narrow wall: {s('wall')} wide and {s('thickness')} thick; the wall should be at least "
        f"{s.number('times')} times the thickness"
    ),
    "too_thin": lambda s: f"is thinner ({s('thickness')}) than this seat allows ({s('allowed')})",
    "very_thin": lambda s: (
        f"is thinner ({s('thickness')}) than {s('folds')}: such pieces fold and cut unless they lie in a sealed pack"
    ),
    "form_not_allowed": lambda s: f"is {_a(s.text('form'))}, and this seat takes only: {s.text('allowed')}",
    "slotted_on_moving_face": lambda _: "is slotted and lies against a face that turns: it can work its way out",
    "tab_has_no_room": lambda _: "has a tab, and the seat has neither a keyway nor a notch for it",
    "needs_tab": _needs_tab,
    "material_not_allowed": lambda s: f"is of {s.text('material')}, and this seat takes only: {s.text('allowed')}",
    "soft_on_moving_face": _hardness,
    "mixed_bores": lambda s: (
        f"the bores in this stack differ, {s('smallest')} and {s('largest')}: the pieces do not lie on one another"
    ),
    "stack_order": _order,
    "from_memory": _memory,
    "burr": lambda s: f"has a burr of {s('burr')}: take it off, flat on a stone, and measure again",
    "uneven_thickness": lambda s: (
        f"is uneven: its spots differ by {s('apart')}, allowed are {s('allowed')}; a wedge, dished, or dirty"
    ),
    "no_measuring_error": lambda _: "its measuring error is not stated, so the reading is taken as exact",
    "coarse_instrument": lambda s: (
        f"was measured to only ±{s('error')}: a calliper is not good enough for a shim, take a micrometer"
    ),
    "label_not_known": lambda _: "no drawer or catalogue of the job knows its label, so that was not checked",
    "label_has_no_tolerance": lambda s: (
        f"its label ({s('thickness')}) states no tolerance, so whether it is what it says was not checked"
    ),
    "not_as_labelled": _not_as_labelled,
}


def _a(word: str) -> str:
    return {"ring": "a plain ring", "slotted": "slotted", "tabbed": "tabbed", "spacer": "a spacer"}.get(word, word)


def fit_words(finding: Finding, say: Speaker) -> str:
    """The sentence of a finding about a part or a stack."""
    return FIT_WORDS[finding.code](_Say(finding, say))
