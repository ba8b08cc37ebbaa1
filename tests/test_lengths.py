"""Lengths: text with a unit to whole nanometres and back, exactly."""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from shimopt.lengths import (
    UNITS,
    Bracket,
    LengthError,
    decimal_text,
    length_of,
    mm_number,
    parse_number,
    spelled,
    to_nm,
    toleranced,
)
from tests.file_strategies import toml_values

units = st.sampled_from(sorted(UNITS))
# a length that fits into a machine: -1 m to 1 m
nanometres = st.integers(-(10**9), 10**9)
# digits that `spelled` shows after the point: 0.1 micrometre, 0.1 micrometre, 0.00001 in, 0.01 thou
STEP = {"mm": 100, "um": 100, "in": 254, "thou": 254}


@pytest.mark.parametrize(
    ("text", "nm"),
    [
        # 1 in = 25.4 mm exactly: international yard and pound agreement, 1959; NIST SP 811
        ("1 in", 25_400_000),
        ("1 thou", 25_400),
        ("17 thou", 431_800),
        ("0.017 in", 431_800),
        ('0.017"', 431_800),
        ("1 inch", 25_400_000),
        ("2 inches", 50_800_000),
        ("0.0005 in", 12_700),
        # 5/64 in: 25.4 x 5 / 64 = 127 / 64 = 1.984375 mm, by hand
        ("5/64 in", 1_984_375),
        ("1 5/64 in", 27_384_375),
        ("-5/64 in", -1_984_375),
        ("0.35 mm", 350_000),
        ("350 µm", 350_000),
        ("350 μm", 350_000),
        ("350 um", 350_000),
        (".35mm", 350_000),
        ("3.5e-1 mm", 350_000),
        ("+0.35 mm", 350_000),
        ("-0.02 mm", -20_000),
        ("0 mm", 0),
        # as word processors write them: a minus sign of its own, spaces that do not break
        ("−0.02 mm", -20_000),
        ("0.35\u00a0mm", 350_000),
        ("0.35\u202fmm", 350_000),
        ("  0.35 mm  ", 350_000),
        # rare units, exact by definition (SI; 1 ft = 12 in)
        ("1 cm", 10_000_000),
        ("1 ft", 304_800_000),
        ("1 nm", 1),
        ("0.0003 m", 300_000),
        ("10 angstrom", 1),
    ],
)
def test_a_length_as_a_person_writes_it(text: str, nm: int) -> None:
    assert length_of(text, None) == nm


@pytest.mark.parametrize(
    ("text", "nm"),
    # half to even: 0.5 nm is 0, 1.5 nm and 2.5 nm are 2, by hand; 1/64 in is 396875 nm, a half of it 198437.5
    [
        ("0.0000005 mm", 0),
        ("0.0000015 mm", 2),
        ("0.0000025 mm", 2),
        ("-0.0000015 mm", -2),
        ("1/128 in", 198_438),
        ("0.00000051 mm", 1),
        ("0.0000004999 mm", 0),
        ("1/3 mm", 333_333),
    ],
)
def test_what_is_finer_than_a_nanometre_is_rounded_half_to_even(text: str, nm: int) -> None:
    assert length_of(text, None) == nm


@pytest.mark.parametrize(
    ("value", "rule", "remedy"),
    [
        ("1,234 mm", "ambiguous", "with a point"),
        ("0,35 mm", "ambiguous", "with a point"),
        ("5 mil", "an angle", "thou"),
        ("5 mils", "an angle", "thou"),
        ("5 kg", "unit of length", "mm, um, in or thou"),
        ("5 degC", "unit of length", "mm, um, in or thou"),
        ("5 furlongish", "unit of length", "mm, um, in or thou"),
        ("5 mm wide", "not known", "mm, um, in or thou"),
        ("5 __class__", "not known", "mm, um, in or thou"),
        ("5", "carries its own unit", '"5 mm"'),
        ("mm", "not a length", '"0.35 mm"'),
        ("", "not a length", '"0.35 mm"'),
        ("0.35 mm ± 0.01 mm", "not a length", '"0.35 mm"'),
        ("1 2 mm", "not a number", "5/64"),
        ("5/0 in", "not a number", "5/64"),
        ("--5 mm", "not a length", '"0.35 mm"'),
        ("٣ mm", "not a length", '"0.35 mm"'),
        ("nan mm", "not a length", '"0.35 mm"'),
        ("1e400 mm", "out of all range", "the unit"),
        ("1e-999999999 mm", "not a number", "0.35"),
        ("11 m", "at most 10 m", "the unit"),
        ("0." + "3" * 100 + " mm", "80 characters", "shorten"),
        (0.35, "a number or a text", '"0.35 mm"'),
        (True, "a number or a text", '"0.35 mm"'),
        (None, "a number or a text", '"0.35 mm"'),
        (Decimal("NaN"), "finite", "ordinary"),
        (Decimal("-Infinity"), "finite", "ordinary"),
        (Decimal("1e400"), "out of all range", "the unit"),
        (Decimal("1e-999999999"), "out of all range", "the unit"),
        (10**5000, "out of all range", "the unit"),
    ],
    ids=lambda value: str(value)[:30] if not isinstance(value, int) else "int",
)
def test_what_is_no_length_is_refused_with_what_to_write(value: object, rule: str, remedy: str) -> None:
    with pytest.raises(LengthError) as caught:
        length_of(value, "mm")
    assert rule in caught.value.rule
    assert remedy in caught.value.remedy


def test_a_bare_number_needs_the_unit_of_the_job() -> None:
    assert length_of(9, "thou") == 228_600
    assert length_of(Decimal("0.009"), "in") == 228_600
    with pytest.raises(LengthError, match="no meaning without a unit"):
        length_of(9, None)


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("0.35 mm ± 0.01 mm", 340_000, 360_000),
        ("0.35 mm +/- 0.01 mm", 340_000, 360_000),
        ("0.35 mm +- 0.01 mm", 340_000, 360_000),
        ("0.35 ± 0.01 mm", 340_000, 360_000),
        ("0.35 mm ± 0.01", 340_000, 360_000),
        ("0.35 mm±10 um", 340_000, 360_000),
        ("0.35\u00a0mm\u00a0±\u00a00.01\u00a0mm", 340_000, 360_000),
        # 0.6248 x 25.4 = 15.86992 mm, 0.0002 x 25.4 = 0.00508 mm, by hand
        ("0.6248 in ± 0.0002 in", 15_864_840, 15_875_000),
        ("−0.02 mm ± 0.03 mm", -50_000, 10_000),
        ("0.35 mm", 350_000, 350_000),
    ],
)
def test_a_length_with_a_tolerance(text: str, low: int, high: int) -> None:
    assert toleranced(text, None) == Bracket(Fraction(low), Fraction(low + high, 2), Fraction(high))


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        ("0.35 ± 0.01", "its own unit"),
        ("0.35 mm ± 0.01 mm ± 0.01 mm", "one tolerance"),
        ("0.35 mm ± -0.01 mm", "not negative"),
        ("0.35 mm ±", "not a length"),
        ("± 0.01 mm", "not a length"),
        ("0.35 mm ± tight", "not a length"),
    ],
)
def test_what_is_no_tolerance_is_refused(text: str, rule: str) -> None:
    with pytest.raises(LengthError) as caught:
        toleranced(text, "mm")
    assert rule in caught.value.rule


@pytest.mark.parametrize(
    ("nm", "unit", "text"),
    [
        (350_000, "mm", "0.35 mm"),
        (300_000, "mm", "0.30 mm"),
        (1_984_375, "mm", "1.9844 mm"),
        (0, "mm", "0.00 mm"),
        (431_800, "thou", "17 thou"),
        (431_800, "in", "0.017 in"),
        (350_000, "um", "350 um"),
        (Fraction(25_400 * 17, 2), "thou", "8.5 thou"),
        (-20_000, "mm", "-0.02 mm"),
        (100_000_000, "mm", "100.00 mm"),
        (1, "mm", "under 0.0001 mm"),
        (-1, "mm", "above -0.0001 mm"),
    ],
)
def test_a_length_as_people_read_it(nm: int | Fraction, unit: str, text: str) -> None:
    assert spelled(nm, unit) == text


@given(nanometres, units)
def test_what_is_spelled_reads_back_within_the_digits_shown(nm: int, unit: str) -> None:
    text = spelled(nm, unit)
    if not text.startswith(("under", "above")):
        # half of the last digit, and half a nanometre where the text falls between two
        assert abs(length_of(text, None) - nm) <= Fraction(STEP[unit], 2) + Fraction(1, 2)
    else:
        assert 0 < abs(nm) < STEP[unit]


@given(st.integers(-(10**7), 10**7), units)
def test_a_length_of_whole_shown_digits_is_spelled_without_loss(steps: int, unit: str) -> None:
    assert length_of(spelled(steps * STEP[unit], unit), None) == steps * STEP[unit]


@given(st.integers(-(10**9), 10**9), st.integers(0, 9), units)
def test_a_decimal_is_what_exact_arithmetic_makes_of_it(digits: int, places: int, unit: str) -> None:
    number = Decimal(digits).scaleb(-places)
    exact = Fraction(digits, 10**places) * UNITS[unit]
    if abs(exact) <= 10**10:
        # Python rounds a Fraction half to even
        assert length_of(number, unit) == length_of(f"{number:f} {unit}", None) == round(exact)


@given(st.integers(0, 99), st.integers(0, 99), st.integers(1, 999), units)
def test_a_fraction_is_what_exact_arithmetic_makes_of_it(whole: int, above: int, below: int, unit: str) -> None:
    exact = Fraction(whole) + Fraction(above, below)
    assert parse_number(f"{whole} {above}/{below}") == exact
    assert to_nm(exact, unit) == round(exact * UNITS[unit])


@given(nanometres)
def test_the_json_number_is_exact_to_the_nanometre(nm: int) -> None:
    assert round(Fraction(str(mm_number(nm))) * 1_000_000) == nm


@given(nanometres, units)
def test_the_decimal_of_files_is_plain_and_reads_back_as_the_same_nanometres(nm: int, unit: str) -> None:
    text = decimal_text(nm, unit)
    # no sign of a plus, no exponent, no noughts before the number or at its end
    assert re.fullmatch(r"(?!-0$)-?(0|[1-9]\d*)(\.\d*[1-9])?", text)
    assert to_nm(Fraction(text), unit) == nm


@pytest.mark.parametrize(
    ("nm", "unit", "text"),
    # worked out by hand: 1 thou = 25 400 nm, so 1 nm = 0.0000393700787... thou
    [
        (-350_000, "mm", "-0.35"),
        (10_000_000, "mm", "10"),
        (0, "in", "0"),
        (1, "thou", "0.00003937"),
        (5, "mm", "0.000005"),
    ],
)
def test_a_length_as_files_hold_it(nm: int, unit: str, text: str) -> None:
    assert decimal_text(nm, unit, 8) == text


# from 0 to 250 m, so that many are too long for a machine
_NUMBERS = st.builds(
    lambda digits, places: f"{digits / 10**places:.{places}f}", st.integers(0, 10**6), st.integers(0, 6)
)
_WRITTEN = st.builds(
    lambda sign, number, unit, more: f"{sign}{number} {unit}{more}",
    st.sampled_from(["", "", "-", "+"]),
    _NUMBERS,
    st.sampled_from(["mm", "um", "in", "thou", "inch", "m"]),
    st.one_of(st.just(""), st.builds(lambda number: f" ± {number} mm", _NUMBERS)),
)


@settings(deadline=None)  # the first rare unit loads the library that knows them
@given(
    st.one_of(
        _WRITTEN,
        toml_values(),
        st.text(max_size=100),
        st.from_regex(r"[-+0-9., /eE]{1,12} ?[a-zµ\"]{0,4}", fullmatch=True),
    ),
    st.sampled_from([None, *UNITS]),
)
@example("1e9999 mm", None)
@example("1 lambda", None)
@example("1 None", None)
@example("1 dB", None)
@example("1 c", None)
@example("\0 mm", "mm")
def test_whatever_is_not_a_length_is_a_length_error_and_nothing_else(value: Any, unit: str | None) -> None:
    refused = []
    for read in (length_of, toleranced):
        try:
            found = read(value, unit)
        except LengthError as error:
            refused.append(error)
            continue
        low, high = (found, found) if isinstance(found, int) else (found.low, found.high)
        # at most 10 m, and as much more where a tolerance stands beside it
        most = 10**10 if read is length_of else 2 * 10**10
        assert -most <= low <= high <= most
    assert all(error.rule and error.remedy for error in refused)


@pytest.mark.parametrize("unit", ["meter", "yard", "foot", "mile", "point", "pica", "micron"])
def test_a_rare_unit_is_read_or_refused_but_never_guessed(unit: str) -> None:
    # 1 yd = 0.9144 m exactly (1959); a foot is a third of it
    known = {"meter": 10**9, "yard": 914_400_000, "foot": 304_800_000, "micron": 1_000}
    try:
        found = length_of(f"1/1000 {unit}", None)
    except LengthError:
        assert unit not in known
    else:
        assert found == round(Fraction(known[unit], 1000)) if unit in known else found > 0
