"""README and help pages show real output, name every command, and what they write out can be read and followed."""

from __future__ import annotations

import re
from pathlib import Path

import click
import pytest

from shimopt import load_job
from shimopt.cli.help_command import TOPICS, lines_of_page
from shimopt.cli.main import cli
from shimopt.job import Job
from shimopt.readings import FORMS
from tests.command import Run
from tests.faults.harness import Faults
from tests.readme import DRAWN_BY, HELP, PAGES, PICTURE, README, blocks, code_of, real_output, text_of, without_times


@pytest.mark.parametrize("command", [command for command, _ in blocks()])
def test_the_output_in_a_page_is_what_the_command_prints(faults: Faults, command: str) -> None:
    printed = faults.run(README.parent, *command.split()[1:])
    assert without_times(printed.out + printed.err) == without_times(dict(blocks())[command])


def test_the_pages_have_output_to_check() -> None:
    assert len(blocks()) >= 6


def test_the_picture_is_what_draw_makes(tmp_path: Path) -> None:
    assert PICTURE.relative_to(README.parent).as_posix() in text_of(README)
    real_output(f"{DRAWN_BY} {tmp_path / 'gaps.svg'}")
    assert (tmp_path / "gaps.svg").read_text(encoding="utf-8") == PICTURE.read_text(encoding="utf-8")


@pytest.mark.parametrize("name", cli.list_commands(click.Context(cli)))
def test_every_command_has_help_an_example_and_its_line_in_the_readme(name: str) -> None:
    command = cli.get_command(click.Context(cli), name)
    assert command is not None
    assert command.short_help
    assert command.help
    assert f"shimopt {name} " in command.help.partition("Examples:")[2]
    assert re.search(rf"^\| [^|]+ \| .*`shimopt {name}", text_of(README), re.MULTILINE)
    assert all(option.help for option in command.params if isinstance(option, click.Option))


def test_the_first_two_shell_blocks_are_the_main_job_and_the_tests() -> None:
    first, second = code_of(README, "sh")[:2]
    assert "shimopt plan demo_data/" in first
    assert "pytest" in second


def test_the_readme_is_read_in_one_go_and_leads_to_every_page() -> None:
    assert len(text_of(README).splitlines()) <= 200
    assert set(re.findall(r"\]\(shimopt/help/(.*?)\.md\)", text_of(README))) == set(TOPICS) == set(HELP)


def test_every_page_that_is_named_is_there() -> None:
    named = [name for page in PAGES for name in re.findall(r"shimopt\s+help\s+([a-z][a-z-]+)", text_of(page))]
    assert set(named) <= set(TOPICS)


@pytest.mark.parametrize("topic", TOPICS)
def test_a_page_is_printed_plain_where_it_is_piped(run: Run, topic: str) -> None:
    code, out, err = run("help", topic)
    assert (code, err) == (0, "")
    assert out.splitlines() == [line for line, _ in lines_of_page(text_of(HELP[topic]))]
    assert "```" not in out
    # a table for a program is as wide as it is
    typed = [line for line in out.splitlines() if not line.startswith(("$ ", "pump "))]
    assert max(len(line) for line in typed) <= 80


def test_without_a_topic_all_are_listed_with_a_line_each(run: Run) -> None:
    code, out, _ = run("help")
    listed = [line.split(maxsplit=1) for line in out.splitlines() if line.startswith("  ")]
    assert (code, [topic for topic, _ in listed]) == (0, list(TOPICS))
    assert all(told.endswith(".") and told in text_of(HELP[topic]) for topic, told in listed)
    assert max(len(line) for line in out.splitlines()) <= 80


def test_a_topic_that_is_none_is_told_the_others(run: Run) -> None:
    code, _, err = run("help", "gears")
    assert code == 2
    assert "readings" in err


def job_of(folder: Path, text: str) -> Job:
    """The job of a text, beside small tables of every kind that the pages name."""
    for name, table in {
        "drawer.csv": "part,thickness_thou,on_hand\nS-10,4,2\nS-30,12,4\n",
        "catalogue.csv": "part,thickness_thou,price,supplier\nS-50,20,1.25,Penhale Shim Stores\n",
        "gaps.csv": "gap,low_thou,high_thou\nupper 2,10,11\n",
    }.items():
        (folder / name).write_text(table, encoding="utf-8")
    (folder / "job.toml").write_text(text, encoding="utf-8")
    return load_job(folder / "job.toml")


def test_the_smallest_files_of_the_readme_are_a_job_that_can_be_done(run: Run, tmp_path: Path) -> None:
    [job], [drawer] = code_of(README, "toml"), code_of(README, "csv")
    (tmp_path / "job.toml").write_text(job, encoding="utf-8")
    (tmp_path / "drawer.csv").write_text(drawer, encoding="utf-8")
    assert run("plan", tmp_path)[0] == 0
    # by hand: 17.5 less 7 is 10.5, inside 4 to 12; less 3 it is 14.5, outside
    assert '"part": "7 thou"' in run("plan", tmp_path, "--json")[1]


def test_the_jobs_that_the_pages_write_out_can_be_read(tmp_path: Path) -> None:
    whole, heat = code_of(HELP["job-file"], "toml")
    supplier, money = code_of(HELP["order"], "toml")
    job = job_of(tmp_path, f"{money}\n{whole}\n{supplier}")
    assert (job.money.currency, {name: float(one.rate) for name, one in job.money.rates.items()}) == (
        "GBP",
        {"EUR": 0.86, "NOK": 0.074},
    )
    # 1 thou = 25,400 nm: NIST SP 811
    assert [(g.name, g.window.min, g.reading.bracket.low) for g in job.gaps] == [
        ("upper 1", 4 * 25_400, 17 * 25_400),
        ("upper 2", 4 * 25_400, 10 * 25_400),
    ]
    assert [(s.name, float(s.postage), s.smallest_order) for s in job.suppliers] == [("Penhale Shim Stores", 5.5, 3)]
    gap = '[[gap]]\nname = "hub"\nvalue = "0.20 mm ± 0.01 mm"\n'
    assert job_of(tmp_path, f"{_TOP}{gap}{heat}").gap["hub"].heat is not None
    [places] = code_of(HELP["places"], "toml")
    job = job_of(tmp_path, f'{_TOP}{places}[[seat]]\nname = "cap face"\n')
    # the middle of 0.25 and 0.30
    assert (job.gap["backlash"].reading.bracket.best, len(job.places)) == (275_000, 2)


_TOP = 'unit = "mm"\ndrawer = "drawer.csv"\nwindow = { min = 0.1, max = 0.2, source = "data sheet" }\n'
# the forms of reading that the page writes out, each from its key to the next
READINGS = [
    reading.strip()
    for block in code_of(HELP["readings"], "toml")
    for reading in re.split(r"^(?=\w+ = )", block, flags=re.MULTILINE)
    if reading
]


@pytest.mark.parametrize("reading", READINGS)
def test_the_readings_that_the_page_names_can_be_read(tmp_path: Path, reading: str) -> None:
    # they are of machines of different sizes: no window suits them all
    window = 'checked = true\nwindow = { min = 0.1, max = 0.3, source = "data sheet" }'
    job = job_of(tmp_path, f'unit = "mm"\ndrawer = "drawer.csv"\n[[gap]]\nname = "drum"\n{reading}\n{window}\n')
    assert job.gap["drum"].reading.kind == reading.partition(" ")[0]


def test_every_form_of_reading_is_written_out() -> None:
    assert {reading.partition(" ")[0] for reading in READINGS} == {form.key for form in FORMS}
