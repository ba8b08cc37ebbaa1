"""Many things wrong at once are told at once, and nothing that a name holds can harm a terminal."""

from __future__ import annotations

import unicodedata
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from shimopt.errors import InputError, Problem, nearest_name, shown
from shimopt.job import load_job
from tests.job_files import edited, problems_of, write_job

ESCAPE = "\\u001b[31mred\\u202e\\u0007"  # colour, the other writing direction, a bell, as TOML writes them


def test_a_dozen_errors_in_four_files_are_told_at_once(tmp_path: Path) -> None:
    job = edited(
        ("title =", "titel ="),
        ("max = 12", "max = 3"),
        ("go = 17", "go = 19"),
        ('seat = "plain end"', 'seat = "plane end"'),
        ("value = 9", "value = nan"),
        ("drawer =", 'gaps = "gaps.csv"\ncatalogues = ["catalogue.csv"]\npriority = ["spred"]\ndrawer ='),
    )
    job += '\n[[balance]]\nname = "upper"\ngaps = ["upper 1", "uper 2"]\n'
    write_job(
        tmp_path,
        job,
        "part,thickness_mm,on_hand\nA,-1,2\nB,1,x\nC,1\n",
        gaps_csv="gap,low_mm,high_mm,seat\na,2,1,\nb,1,2,plain edn\nupper 1,1,2,\n",
        catalogue_csv="part,thickness_mm,price\nD,0,1\nE,1,-1\n",
    )
    places = {(Path(problem.file).name, problem.where) for problem in problems_of(tmp_path)}
    assert places == {
        ("job.toml", "titel"),
        ("job.toml", "[window]"),
        ("job.toml", '[[gap]] 1 "upper 1", feeler'),
        ("job.toml", '[[gap]] 1 "upper 1", seat'),
        ("job.toml", '[[gap]] 2 "upper 2", value'),
        ("job.toml", "priority, entry 1"),
        ("job.toml", '[[balance]] 1 "upper", gaps'),
        ("drawer.csv", "row 2, column thickness_mm"),
        ("drawer.csv", "row 3, column on_hand"),
        ("drawer.csv", "row 4"),
        ("catalogue.csv", "row 2, column thickness_mm"),
        ("catalogue.csv", "row 3, column price"),
        ("gaps.csv", "row 2, column low_mm"),
        ("gaps.csv", "row 3, column seat"),
        ("gaps.csv", "row 4, column gap"),
    }


def test_a_drawer_and_a_gaps_table_that_are_not_there_are_told_with_the_rest(tmp_path: Path) -> None:
    job = edited(("drawer =", 'gaps = "gaps.csv"\ndrawer ='), ("title =", "titel ="))
    assert [Path(problem.file).name for problem in problems_of(write_job(tmp_path, job, None))] == [
        "job.toml",
        "drawer.csv",
        "gaps.csv",
    ]


def test_an_error_is_one_line_that_a_person_can_act_on(tmp_path: Path) -> None:
    [problem] = problems_of(write_job(tmp_path, edited(('"plain end"\nf', '"plane end"\nf'))))
    assert str(problem) == (
        f'{tmp_path}/job.toml, [[gap]] 1 "upper 1", seat: there is no such seat (here: plane end). '
        "Did you mean plain end?"
    )
    assert str(InputError([problem, problem])).count("\n") == 1


def test_the_same_problem_as_data(tmp_path: Path) -> None:
    [problem] = problems_of(write_job(tmp_path, edited(('"plain end"\nf', '"plane end"\nf'))))
    assert problem.to_dict() == {
        "file": f"{tmp_path}/job.toml",
        "where": '[[gap]] 1 "upper 1", seat',
        "value": "plane end",
        "rule": "there is no such seat",
        "remedy": "did you mean plain end?",
        "field": "gap[0].seat",
    }


def test_control_characters_in_names_keys_and_cells_are_shown_harmless(tmp_path: Path) -> None:
    job = edited(
        ("title =", f'"{ESCAPE}" ='),
        ('seat = "plain end"', f'seat = "{ESCAPE} seat"'),
        ('name = "upper 2"', f'name = "{ESCAPE} gap"\n"{ESCAPE}" = 1'),
        ("drawer =", f'catalogues = ["{ESCAPE}.csv"]\npriority = ["{ESCAPE}"]\ndrawer ='),
    )
    drawer = "part,thickness_mm\n\x1b[31mA\x07,1\n\x1b[31mA\x07,2\nB,\x1b[2J\n"
    problems = problems_of(write_job(tmp_path, job, drawer))
    assert len(problems) == 7
    for problem in problems:
        assert all(unicodedata.category(ch) not in {"Cc", "Cf"} for ch in str(problem))
    assert "\\x1b[31mred\\u202e\\x07 seat" in "\n".join(map(str, problems))


def test_a_job_with_control_characters_in_its_names_is_read_as_it_is(tmp_path: Path) -> None:
    job = load_job(write_job(tmp_path, edited(('name = "upper 2"', f'name = "{ESCAPE}"'))))
    assert job.gaps[1].name == "\x1b[31mred\u202e\x07"


@given(st.text(alphabet=st.characters(exclude_categories=[])))
def test_what_is_shown_holds_nothing_that_a_terminal_obeys(text: str) -> None:
    for line in (shown(text), str(Problem(text, text, text, text, text))):
        assert not {unicodedata.category(ch) for ch in line} & {"Cc", "Cf", "Cs", "Zl", "Zp"}


def test_a_long_name_is_cut_where_it_is_shown() -> None:
    assert len(shown("x" * 100_000)) == 200


@given(st.text(), st.lists(st.text(), max_size=5))
def test_the_name_meant_is_one_of_those_known(wrong: str, known: list[str]) -> None:
    assert nearest_name(wrong, known) in {None, *known}
