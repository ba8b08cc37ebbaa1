"""The README shows real output, names every command, and its first commands can be followed."""

from __future__ import annotations

import re
from pathlib import Path

import click
import pytest

from shimopt import load_job
from shimopt.cli.main import cli
from shimopt.job import Job
from shimopt.readings import FORMS
from tests.readme import README, blocks, real_output, without_times


@pytest.mark.parametrize("command", [command for command, _ in blocks()])
def test_the_output_in_the_readme_is_what_the_command_prints(command: str) -> None:
    assert without_times(real_output(command)) == without_times(dict(blocks())[command])


def test_the_readme_has_output_to_check() -> None:
    assert len(blocks()) >= 2


@pytest.mark.parametrize("name", cli.list_commands(click.Context(cli)))
def test_every_command_has_help_an_example_and_its_line_in_the_readme(name: str) -> None:
    command = cli.get_command(click.Context(cli), name)
    assert command is not None
    assert command.short_help
    assert command.help
    assert f"shimopt {name} " in command.help.partition("Examples:")[2]
    assert f"| `shimopt {name}" in README.read_text(encoding="utf-8")
    assert all(option.help for option in command.params if isinstance(option, click.Option))


def test_the_first_two_shell_blocks_are_the_main_job_and_the_tests() -> None:
    first, second = re.findall(r"```sh\n(.*?)```", README.read_text(encoding="utf-8"), re.DOTALL)[:2]
    assert "shimopt plan demo_data/" in first
    assert "pytest" in second


def test_all_options_of_plan_stand_in_the_readme() -> None:
    text = README.read_text(encoding="utf-8")
    plan = cli.get_command(click.Context(cli), "plan")
    assert plan is not None
    for option in (o for o in plan.params for o in o.opts):
        if option.startswith("--") and option != "--output":
            assert f"`{option}" in text, option


def job_of(folder: Path, text: str) -> Job:
    """The job of a text, beside small tables of every kind that the README names."""
    for name, table in {
        "drawer.csv": "part,thickness_thou,on_hand\nS-10,4,2\nS-30,12,4\n",
        "catalogue.csv": "part,thickness_thou,price,supplier\nS-50,20,1.25,Penhale Shim Stores\n",
        "gaps.csv": "gap,low_thou,high_thou\nupper 2,10,11\n",
    }.items():
        (folder / name).write_text(table, encoding="utf-8")
    (folder / "job.toml").write_text(text, encoding="utf-8")
    return load_job(folder / "job.toml")


def test_the_jobs_that_the_readme_writes_out_can_be_read(tmp_path: Path) -> None:
    whole, supplier, places = re.findall(r"```toml\n(.*?)```", README.read_text(encoding="utf-8"), re.DOTALL)
    job = job_of(tmp_path, f"{whole}\n{supplier}")
    # 1 thou = 25,400 nm: NIST SP 811
    assert [(g.name, g.window.min, g.reading.bracket.low) for g in job.gaps] == [
        ("upper 1", 4 * 25_400, 17 * 25_400),
        ("upper 2", 4 * 25_400, 10 * 25_400),
    ]
    assert [(s.name, float(s.postage), s.smallest_order) for s in job.suppliers] == [("Penhale Shim Stores", 5.5, 3)]
    top = 'unit = "mm"\ndrawer = "drawer.csv"\nwindow = { min = 0.1, max = 0.2, source = "data sheet" }\n'
    rest = '[[place]]\nname = "right cap"\nseat = "cap face"\n[[seat]]\nname = "cap face"\n'
    job = job_of(tmp_path, top + places + rest)
    # the middle of 0.25 and 0.30
    assert (job.gap["backlash"].reading.bracket.best, len(job.places)) == (275_000, 2)


# rows of the readings' tables that write one out whole
READINGS = [
    reading
    for reading in re.findall(r"^\| `(\w+ = .*?)` \|", README.read_text(encoding="utf-8"), re.MULTILINE)
    if reading.partition(" ")[0] in {form.key for form in FORMS} and "..." not in reading
]


@pytest.mark.parametrize("reading", READINGS)
def test_the_readings_that_the_readme_names_can_be_read(tmp_path: Path, reading: str) -> None:
    # the table's rows are of machines of different sizes: no window suits them all
    window = 'checked = true\nwindow = { min = 0.1, max = 0.3, source = "data sheet" }'
    job = job_of(tmp_path, f'unit = "mm"\ndrawer = "drawer.csv"\n[[gap]]\nname = "drum"\n{reading}\n{window}\n')
    assert job.gap["drum"].reading.kind == reading.partition(" ")[0]


def test_every_form_of_reading_is_written_out_in_the_readme() -> None:
    assert {reading.partition(" ")[0] for reading in READINGS} == {form.key for form in FORMS}
