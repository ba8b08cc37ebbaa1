"""Why a gap of a batch got its stack or none: one short sentence by kind, so that millions of rows share a few."""

from __future__ import annotations

from shimopt.words.speaker import begun

_WORDS = {
    "already_inside": "already inside, so nothing is fitted",
    "unproven_as_read": "inside by its best estimate only; no stack makes it surer, so nothing is fitted",
    "fitted_to_come_inside": "too loose as read; the stack brings it inside",
    "fitted_to_come_inside_unproven": "too loose as read; the stack brings its best estimate inside, but its "
    "bracket still stands out",
    "fitted_to_be_surer": "its bracket stands out of the window as read; the stack brings all of it inside",
    "fitted_to_be_surer_unproven": "its bracket stands out of the window as read; with the stack it stands out less",
    "below_window": "too tight; more shim cannot help, so nothing is fitted",
    "nothing_suits": "too loose, and no part suits its seat, so nothing is fitted",
    "shims_not_allowed": "too loose, but its seat takes no shims",
    "not_thick_enough": "too loose by more than the thickest stack can close, so nothing is fitted",
    "far_above_window": "many times too loose, and no stack comes near it: a decimal point may have slipped, "
    "measure it again before anything is fitted",
    "too_tight_with_thinnest": "too loose, but even the thinnest stack would make it too tight, so nothing is fitted",
    "no_size_between": "too loose, and no stack falls into it, so nothing is fitted",
}
CODES = tuple(_WORDS)
_INCHES = {"in": "inches"}
_SEAT = {"": "seat not checked", "part": "seat checked only in part", "all": ""}


def batch_words(code: str, checked: str, *, careful: bool) -> str:
    """The sentence.

    Parameters: checked, what of the seat was checked ("" nothing, "part", "all"); careful, whether a part of the stack
    is fitted under a caution. What was not checked is said where a stack is fitted.
    """
    said = [_WORDS[code]]
    if code.startswith("fitted"):
        said += [words for words in ("with care: a part has a caution" if careful else "", _SEAT[checked]) if words]
    sentence = "; ".join(said)
    return f"{begun(sentence)}."


def slip_words(typed_in: str, unit: str, *, far_above: bool) -> str:
    """Why a row is refused whose reading, typed in one unit, was probably read in another, and what to do.

    Without that other `unit` it is probably a thousand times too large.
    """
    why = "is far too loose, and no stack comes near it" if far_above else "is less than any gauge shows"
    was = f"was probably in {_INCHES.get(unit, unit)}" if unit else "is probably a thousand times too large"
    return (
        f"The reading {was}: in {_INCHES.get(typed_in, typed_in)} it {why}. Write "
        "what was read; if it was read so, write yes in a column checked."
    )
