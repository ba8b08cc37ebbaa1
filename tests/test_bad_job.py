"""Every way in which job.toml itself can be wrong: what the reader says, and where."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.job_files import JOB, check, edited, problems_of, the_problem, write_job

UPPER_1 = '[[gap]] 1 "upper 1"'
BALANCE = '\n[[balance]]\nname = "upper"\ngaps = ["upper 1", "upper 2"]\n'

# a name of the case: what is changed; where the reader points, what it found there, words of its rule and remedy
Case = tuple[list[tuple[str, str]], str, str, str, str]
CASES: dict[str, Case] = {
    "a key that nobody knows": (
        [("title =", "titel =")],
        "titel",
        "Drive of the swing bridge",
        "`titel` is not a known key",
        "mean title?",
    ),
    "a key of a gap that nobody knows": (
        [("seat = ", "seats = ")],
        f"{UPPER_1}, seats",
        "plain end",
        "not a known key",
        "did you mean seat?",
    ),
    "a blade that nobody knows": (
        [("go = 17", "goo = 17")],
        f"{UPPER_1}, feeler.goo",
        "17",
        "not a known key",
        "did you mean go?",
    ),
    "a key unlike all others": (
        [("title =", "qqqq =")],
        "qqqq",
        "Drive of the swing bridge",
        "not a known key",
        "known here: title, unit",
    ),
    "a key whose name looks like a place": (
        [("title =", '"[[x" =')],
        "[[x",
        "Drive of the swing bridge",
        "not a known key",
        "known here",
    ),
    "a key that begins like a kind of number": (
        [("title =", "internal_no =")],
        "internal_no",
        "Drive of the swing bridge",
        "not a known key",
        "known here",
    ),
    "a top-level key below a table": (
        [('shaft = "0.6248 in ± 0.0002 in"', "balance_within = 2")],
        '[[seat]] 1 "plain end", balance_within',
        "2",
        "belongs at the top of the file",
        "move it up, above the first [table]",
    ),
    "a unit that is none of the four": ([('"thou"', '"cm"')], "unit", "cm", "mm, um, in or thou", 'unit = "mm"'),
    "a unit spelled out": ([('"thou"', '"inch"')], "unit", "inch", "mm, um, in or thou", 'unit = "in"'),
    "mil, which is an angle to some": ([('"thou"', '"mil"')], "unit", "mil", "mm, um, in or thou", 'unit = "thou"'),
    "a unit in capitals": ([('"thou"', '"MM"')], "unit", "MM", "mm, um, in or thou", 'unit = "mm"'),
    "a unit that is no text": ([('"thou"', "25.4")], "unit", "25.4", "mm, um, in or thou", 'unit = "mm"'),
    "a window without min": ([("min = 4\n", "")], "[window], min", "", "`min` is missing", 'min = "none"'),
    "a window without max": ([("max = 12\n", "")], "[window], max", "", "`max` is missing", 'max = "none"'),
    "a window without source": (
        [('source = "works drawings 1931, sheet 7"\n', "")],
        "[window], source",
        "",
        "`source` is missing",
        "who states",
    ),
    "a window with a question mark for a source": (
        [('"works drawings 1931, sheet 7"', '"?"')],
        "[window], source",
        "?",
        "says who states these figures",
        "a manual and page",
    ),
    "a window with an empty source": (
        [('"works drawings 1931, sheet 7"', '" "')],
        "[window], source",
        " ",
        "not empty",
        "in quotes",
    ),
    "min over max": (
        [("max = 12", "max = 3"), ('source = "works drawings 1931, sheet 7"', 'source = "s"')],
        "[window]",
        '{ min = 4, max = 3, source = "s" }',
        "min 4 thou is above max 3 thou",
        "swap",
    ),
    "neither min nor max": (
        [("min = 4", 'min = "none"'), ("max = 12", 'max = "none"'), ("works drawings 1931, sheet 7", "s")],
        "[window]",
        '{ min = "none", max = "none", source = "s" }',
        "neither min nor max",
        "at least one",
    ),
    "a target outside the window": (
        [("max = 12", "max = 12\ntarget = 13"), ("works drawings 1931, sheet 7", "s")],
        "[window]",
        '{ min = 4, max = 12, target = 13, source = "s" }',
        "target lies outside",
        "inside the window",
    ),
    "a window of a gap upside down": (
        [("value = 9", 'value = 9\nwindow = { min = 5, max = 4, source = "s" }')],
        '[[gap]] 2 "upper 2", window',
        '{ min = 5, max = 4, source = "s" }',
        "min 5 thou is above max 4 thou",
        "swap",
    ),
    "go above no_go": (
        [("go = 17", "go = 19")],
        f"{UPPER_1}, feeler",
        "{ go = 19, no_go = 18 }",
        "not thinner",
        "swap go and no_go",
    ),
    "go as thick as no_go": (
        [("go = 17", "go = 18")],
        f"{UPPER_1}, feeler",
        "{ go = 18, no_go = 18 }",
        "not thinner",
        "swap go and no_go",
    ),
    "go alone": (
        [("go = 17, no_go = 18", "go = 25")],
        f"{UPPER_1}, feeler",
        "{ go = 25 }",
        "only the least",
        "until one does not",
    ),
    "a blade below zero": (
        [("go = 17", "go = -1")],
        f"{UPPER_1}, feeler",
        "{ go = -1, no_go = 18 }",
        "not thinner than nothing",
        "from 0 up",
    ),
    "a spot without blades": (
        [("{ go = 17, no_go = 18 }", "{}")],
        f"{UPPER_1}, feeler",
        "{  }",
        "a spot names its blades",
        "no_go",
    ),
    "no spots at all": (
        [("{ go = 17, no_go = 18 }", "[]")],
        UPPER_1,
        "",
        "at least one spot",
        "{ go = ..., no_go = ... }",
    ),
    "the second of two spots": (
        [("{ go = 17, no_go = 18 }", "[{ go = 17, no_go = 18 }, { go = 9 }]")],
        f"{UPPER_1}, feeler.2",
        "{ go = 9 }",
        "only the least",
        "until one does not",
    ),
    "a tight pull without the step": (
        [("go = 17, no_go = 18", "snug = 11")],
        f"{UPPER_1}, feeler",
        "{ snug = 11 }",
        "needs the step",
        "step = ",
    ),
    "a step without a tight pull": (
        [("go = 17,", "step = 1,")],
        f"{UPPER_1}, feeler",
        "{ step = 1, no_go = 18 }",
        "`step` belongs to `snug`",
        "snug",
    ),
    "a tight pull and blades": (
        [("go = 17, no_go = 18", "snug = 11, step = 1, go = 10")],
        f"{UPPER_1}, feeler",
        "{ snug = 11, step = 1, go = 10 }",
        "not both",
        "keep one",
    ),
    "two readings of one gap": (
        [("value = 9", "value = 9\nfeeler = { go = 8, no_go = 9 }")],
        '[[gap]] 2 "upper 2"',
        "",
        "exactly one reading",
        "one of value, feeler",
    ),
    "a gap without a reading": (
        [("value = 9", "")],
        '[[gap]] 2 "upper 2"',
        '{ name = "upper 2" }',
        "exactly one reading",
        "one of value, feeler",
    ),
    "a gap without a name": ([('name = "upper 2"\n', "")], "[[gap]] 2, name", "", "`name` is missing", "name = "),
    "a number for a name": ([('name = "upper 2"', "name = 2")], "[[gap]] 2, name", "2", "a text", "quotes"),
    "a gap that is no table": (
        [
            (
                '[[gap]]\nname = "upper 1"\nseat = "plain end"\nfeeler = { go = 17, no_go = 18 }\n\n[[gap]]\n'
                'name = "upper 2"\nvalue = 9\n',
                "",
            ),
            ("drawer =", "gap = [3]\ndrawer ="),
        ],
        "gap, entry 1",
        "3",
        "this is a table",
        "braces",
    ),
    "no gaps": (
        [
            (
                '[[gap]]\nname = "upper 1"\nseat = "plain end"\nfeeler = { go = 17, no_go = 18 }\n\n[[gap]]\n'
                'name = "upper 2"\nvalue = 9\n',
                "",
            )
        ],
        "",
        "",
        "no gaps",
        "[[gap]]",
    ),
    "a length without a unit of its own": (
        [("value = 9", 'value = "9"')],
        '[[gap]] 2 "upper 2", value',
        "9",
        "carries its own unit",
        '"9 thou"',
    ),
    "a comma that may mean thousands": (
        [("value = 9", 'value = "1,234 mm"')],
        '[[gap]] 2 "upper 2", value',
        "1,234 mm",
        "ambiguous",
        "with a point",
    ),
    "a length in mil": (
        [("value = 9", 'value = "9 mil"')],
        '[[gap]] 2 "upper 2", value',
        "9 mil",
        "an angle",
        "write thou",
    ),
    "a weight for a length": (
        [("value = 9", 'value = "9 kg"')],
        '[[gap]] 2 "upper 2", value',
        "9 kg",
        "unit of length",
        "mm, um, in or thou",
    ),
    "words for a length": (
        [("value = 9", 'value = "loose"')],
        '[[gap]] 2 "upper 2", value',
        "loose",
        "not a length",
        '"0.35 mm"',
    ),
    "true for a length": (
        [("value = 9", "value = true")],
        '[[gap]] 2 "upper 2", value',
        "true",
        "a number or a text",
        "0.35",
    ),
    "a date for a length": (
        [("value = 9", "value = 2026-01-31")],
        '[[gap]] 2 "upper 2", value',
        "2026-01-31",
        "a number or a text",
        "0.35",
    ),
    "a list for a length": (
        [("value = 9", "value = [9]")],
        '[[gap]] 2 "upper 2", value',
        "",
        "a number or a text",
        "0.35",
    ),
    "a negative tolerance": (
        [("value = 9", 'value = "9 thou ± -1 thou"')],
        '[[gap]] 2 "upper 2", value',
        "9 thou ± -1 thou",
        "not negative",
        "positive",
    ),
    "nan": ([("value = 9", "value = nan")], '[[gap]] 2 "upper 2", value', "nan", "must be finite", "ordinary"),
    "infinity": ([("value = 9", "value = -inf")], '[[gap]] 2 "upper 2", value', "-inf", "must be finite", "ordinary"),
    "1e400": ([("value = 9", "value = 1e400")], '[[gap]] 2 "upper 2", value', "1E+400", "out of all range", "digits"),
    "a number next to nothing": (
        [("value = 9", "value = 1e-999999999")],
        '[[gap]] 2 "upper 2", value',
        "1E-999999999",
        "out of all range",
        "digits",
    ),
    "1e400 as text": (
        [("value = 9", 'value = "1e400 mm"')],
        '[[gap]] 2 "upper 2", value',
        "1e400 mm",
        "out of all range",
        "digits",
    ),
    "a number of thousands of digits in sixteens": (
        [("value = 9", "value = 0x" + "f" * 6000)],
        '[[gap]] 2 "upper 2", value',
        "a whole number of about 7200 digits",
        "out of all range",
        "digits",
    ),
    "a name of thousands of digits": (
        [('name = "upper 2"', "name = 0x" + "f" * 6000)],
        "[[gap]] 2, name",
        "a whole number of about 7200 digits",
        "a text",
        "quotes",
    ),
    "a machine of 11 m of play": (
        [("value = 9", 'value = "11 m"')],
        '[[gap]] 2 "upper 2", value',
        "11 m",
        "at most 10 m",
        "the unit",
    ),
    "a seat that nobody described": (
        [('seat = "plain end"', 'seat = "plane end"')],
        f"{UPPER_1}, seat",
        "plane end",
        "no such seat",
        "mean plain end?",
    ),
    "a seat unlike all others": (
        [('seat = "plain end"', 'seat = "QQQ"')],
        f"{UPPER_1}, seat",
        "QQQ",
        "no such seat",
        'name = "QQQ"',
    ),
    "a gap described twice": (
        [('"upper 2"', '"upper 1"')],
        '[[gap]] 2 "upper 1", name',
        "upper 1",
        "the other at [[gap]] 1",
        "a name of its own",
    ),
    "a seat described twice": (
        [("value = 9\n", 'value = 9\n[[seat]]\nname = "plain end"\n')],
        '[[seat]] 2 "plain end", name',
        "plain end",
        "two seats have this name",
        "a name of its own",
    ),
    "a balance described twice": (
        [("value = 9\n", "value = 9\n" + BALANCE + BALANCE)],
        '[[balance]] 2 "upper", name',
        "upper",
        "two balances have this name",
        "a name of its own",
    ),
    "a balance of one gap": (
        [("value = 9\n", "value = 9\n" + BALANCE.replace('"upper 1", ', ""))],
        '[[balance]] 1 "upper", gaps',
        "",
        "at least two gaps",
        "add one",
    ),
    "a balance of one gap twice": (
        [("value = 9\n", "value = 9\n" + BALANCE.replace('"upper 1"', '"upper 2"'))],
        '[[balance]] 1 "upper", gaps',
        "",
        "stands twice",
        "once",
    ),
    "a balance of a gap that is not there": (
        [("value = 9\n", "value = 9\n" + BALANCE.replace('"upper 1"', '"uper 1"'))],
        '[[balance]] 1 "upper", gaps',
        "uper 1",
        "no such gap",
        "did you mean upper 1?",
    ),
    "an offset of a gap outside the balance": (
        [("value = 9\n", "value = 9\n" + BALANCE + 'offset = { "uper 2" = 1 }\n')],
        '[[balance]] 1 "upper", offset',
        "uper 2",
        "not in the balance",
        "did you mean upper 2?",
    ),
    "a negative spread": (
        [("value = 9\n", "value = 9\n" + BALANCE + "within = -2\n")],
        '[[balance]] 1 "upper", within',
        "-2",
        "not negative",
        "without a sign",
    ),
    "a level that does not exist": (
        [("drawer =", 'priority = ["pieces", "spred"]\ndrawer =')],
        "priority, entry 2",
        "spred",
        "no such level",
        "did you mean spread?",
    ),
    "a level twice": ([("drawer =", 'priority = ["pieces", "pieces"]\ndrawer =')], "priority", "", "twice", "once"),
    "one level without brackets": (
        [("drawer =", 'priority = "pieces"\ndrawer =')],
        "priority",
        "pieces",
        "a list has to stand here",
        "square brackets",
    ),
    "no pieces in a stack": (
        [("[[seat]]", "[stacks]\nmost_pieces = 0\n[[seat]]")],
        "[stacks], most_pieces",
        "0",
        "whole number from 1",
        "3",
    ),
    "half a piece in a stack": (
        [("[[seat]]", "[stacks]\nmost_pieces = 2.5\n[[seat]]")],
        "[stacks], most_pieces",
        "2.5",
        "whole number",
        "3",
    ),
    "a shaft of no diameter": (
        [('"0.6248 in ± 0.0002 in"', '"0.1 mm ± 0.1 mm"')],
        '[[seat]] 1 "plain end", shaft',
        "0.1 mm ± 0.1 mm",
        "above zero",
        "measure",
    ),
    "no shims here, and no reason": (
        [('shaft = "0.6248 in ± 0.0002 in"', "shims_allowed = false")],
        '[[seat]] 1 "plain end"',
        '{ name = "plain end", shims_allowed = false }',
        "says why",
        "why = ",
    ),
    "a word for true": (
        [('shaft = "0.6248 in ± 0.0002 in"', 'shims_allowed = "no"')],
        '[[seat]] 1 "plain end", shims_allowed',
        "no",
        "true or false",
        "without quotes",
    ),
    "a seat as one table": (
        [("[[seat]]", "[seat]"), ('shaft = "0.6248 in ± 0.0002 in"', "")],
        "[seat]",
        '{ name = "plain end" }',
        "several of this table",
        "[[seat]]",
    ),
    "a supplier without postage": (
        [("value = 9\n", 'value = 9\n[[supplier]]\nname = "north"\n')],
        '[[supplier]] 1 "north", postage',
        "",
        "`postage` is missing",
        "0 where there is none",
    ),
    "one supplier as a table": (
        [("value = 9\n", 'value = 9\n[supplier]\nname = "north"\npostage = 1\n')],
        "[supplier]",
        '{ name = "north", postage = 1 }',
        "several of this table",
        "[[supplier]]",
    ),
    "a drawer that is a number": ([('"drawer.csv"', "5")], "drawer", "5", "a text", "quotes"),
    "a catalogue that is not there": (
        [("drawer =", 'catalogues = ["drawr.csv"]\ndrawer =')],
        "catalogues",
        "drawr.csv",
        "no such catalogue",
        "did you mean drawer.csv?",
    ),
}


@pytest.mark.parametrize(("edits", "where", "value", "rule", "remedy"), CASES.values(), ids=CASES.keys())
def test_the_reader_says_what_is_wrong_and_where(
    tmp_path: Path, edits: list[tuple[str, str]], where: str, value: str, rule: str, remedy: str
) -> None:
    problem = the_problem(write_job(tmp_path, edited(*edits)))
    check(problem, file="job.toml", where=where, value=value, rule=[rule], remedy=[remedy])


def test_a_missing_unit_is_told_once_with_the_first_bare_number(tmp_path: Path) -> None:
    missing, bare = problems_of(write_job(tmp_path, edited(('unit = "thou"\n', ""))))
    check(
        missing, file="job.toml", where="unit", value="", rule=["`unit` is missing"], remedy=["at the top of the file"]
    )
    check(
        bare, file="job.toml", where="[window], min", value="4", rule=["no meaning without a unit"], remedy=["`unit`"]
    )


def test_a_unit_below_a_table_is_told_to_move_up(tmp_path: Path) -> None:
    job = edited(('unit = "thou"\n', ""), ("max = 12\n", 'max = 12\nunit = "thou"\n'))
    wheres = {problem.where: problem for problem in problems_of(write_job(tmp_path, job))}
    assert wheres["unit"].rule == "`unit` is missing"
    assert "move it up" in wheres["[window], unit"].remedy


def test_gaps_without_any_window_are_told_in_one_sentence(tmp_path: Path) -> None:
    job = edited(('[window]\nmin = 4\nmax = 12\nsource = "works drawings 1931, sheet 7"\n', ""))
    check(
        the_problem(write_job(tmp_path, job)),
        file="job.toml",
        where="[window]",
        value='1 "upper 1", 2 "upper 2"',
        rule=["no [window]"],
        remedy=["min, max and source"],
    )


@pytest.mark.parametrize(
    ("text", "where", "value"),
    [
        ('unit = "thou\n', "line 1, column 13", 'unit = "thou'),
        ('unit = "thou"\nmax 12\n', "line 2, column 5", "max 12"),
        ('unit = "thou"\nunit = "mm"\n', "line 2, column 12", 'unit = "mm"'),
        ("# only a start\nwindow = { min = 3\n", "line 2, column 19", "window = { min = 3"),
        ("a = 2026-02-31\n", "line 1, column 5", "a = 2026-02-31"),
    ],
    ids=["open quote", "no equal sign", "a key twice", "open brace", "a day that never comes"],
)
def test_what_is_not_toml_is_told_with_line_and_column(tmp_path: Path, text: str, where: str, value: str) -> None:
    check(
        the_problem(write_job(tmp_path, text)),
        file="job.toml",
        where=where,
        value=value,
        rule=["this is not TOML"],
        remedy=["quotes, brackets and equal signs"],
    )


@pytest.mark.parametrize(
    "number",
    ["9" * 6000, "0." + "3" * 100, "1e" + "9" * 30, "1e-" + "9" * 30],
    ids=["thousands of digits", "a hundred decimals", "no computer's exponent", "nor this one"],
)
def test_a_number_that_no_parser_takes_is_told_with_its_line(tmp_path: Path, number: str) -> None:
    problem = the_problem(write_job(tmp_path, edited(("value = 9", f"value = {number}"))))
    # `value` stands on the 21st line of the good job
    assert JOB.splitlines()[20] == "value = 9"
    assert (problem.where, problem.value[-1]) == ("line 21", "…")
    assert "at most 80 digits" in problem.rule


@pytest.mark.parametrize("depth", [50, 5000, 200_000])
def test_tables_nested_too_deep_are_refused(tmp_path: Path, depth: int) -> None:
    problem = the_problem(write_job(tmp_path, f"notes = {'[' * depth}{']' * depth}\n"))
    assert "nested deeper" in problem.rule


def test_keys_nested_too_deep_are_refused(tmp_path: Path) -> None:
    problem = the_problem(write_job(tmp_path, "notes" + ".a" * 300 + " = 1\n"))
    check(problem, file="job.toml", where="notes", value="", rule=["nested deeper"], remedy=["flatten"])


def test_a_key_of_a_million_parts_is_refused_before_it_is_read(tmp_path: Path) -> None:
    problem = the_problem(write_job(tmp_path, "\nnotes" + ".a" * 1_000_000 + " = 1\n"))
    assert (problem.where, problem.rule) == ("line 2", "a line has at most 300 points")


def test_an_empty_job_is_told_how_to_start(tmp_path: Path) -> None:
    check(
        the_problem(write_job(tmp_path, " \n")),
        file="job.toml",
        where="",
        value="",
        rule=["empty"],
        remedy=["shimopt new"],
    )


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("min = .004", "0.004"),
        ("min = -.5   # a preload", "-0.5"),
        ("min = 4.", "4.0"),
        ("min = 0,35", "0.35"),
        ("max = { a = 1,5, b = 2 }", "1.5"),
        ("max = [1, .5]", "0.5"),
    ],
)
def test_a_number_that_toml_does_not_take_is_shown_as_it_should_be(tmp_path: Path, written: str, meant: str) -> None:
    problem = the_problem(write_job(tmp_path, edited(("min = 4\n", f"{written}\n"))))
    assert problem.where.startswith("line 6, column ")
    assert (problem.value, problem.remedy) == (written, f"write {meant}")


def test_a_list_of_whole_numbers_with_something_wrong_beside_it_is_not_taken_for_a_decimal(tmp_path: Path) -> None:
    assert "quotes" in the_problem(write_job(tmp_path, edited(("min = 4\n", "min = [0,35, x]\n")))).remedy
