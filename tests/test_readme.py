"""The README shows real output, names every command, and its first commands can be followed."""

from __future__ import annotations

import re

import click
import pytest

from shimopt.cli.main import cli
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
