"""One word for each thing: what `shimopt help words` says is not said otherwise, on no screen and no paper."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import click
import pytest

import shimopt
from shimopt.cli.main import cli
from tests.readme import HELP, PAGES, text_of

PACKAGE = Path(shimopt.__file__).parent
# sentences, screens and papers; questions and help of the command line; what is wrong with a job
SPOKEN = [file for room in ("words", "render", "cli", "job") for file in PACKAGE.glob(f"{room}/**/*.py")]
SPOKEN = [file for file in SPOKEN if "json" not in file.parts]
# a key, for programs; a word that begins large is one for people
_KEY = re.compile(r"[A-Z_]*|[a-z_][A-Za-z_]*")


def retired() -> list[str]:
    """All that stands after `Instead of:` in the page."""
    said = " ".join(text_of(HELP["words"]).split())
    found = re.findall(r"Instead of: (.*?)\.(?= |$)", said)
    return [phrase.strip() for phrases in found for phrase in phrases.split(",")]


def sentences(source: str) -> Iterator[str]:
    """What a module may say: its texts, and those within texts, but docstrings and keys."""
    tree = ast.parse(source)
    holders = (ast.Module, ast.ClassDef, ast.FunctionDef)
    notes = {id(n.body[0].value) for n in ast.walk(tree) if isinstance(n, holders) and isinstance(n.body[0], ast.Expr)}
    for node in ast.walk(tree):
        text = node.value if isinstance(node, ast.Constant) and id(node) not in notes else None
        if isinstance(text, str) and not _KEY.fullmatch(text):
            yield text


def otherwise(texts: Iterator[str]) -> list[tuple[str, str]]:
    """Each text that says a thing by a word that is not its own, with that word."""
    old = [(phrase, re.compile(rf"\b{phrase}s?\b".replace("95 %s?\\b", "95 %"), re.IGNORECASE)) for phrase in retired()]
    return [(phrase, text) for text in texts for phrase, rule in old if rule.search(text)]


@pytest.mark.parametrize("file", SPOKEN, ids=lambda file: file.relative_to(PACKAGE).as_posix())
def test_screens_and_papers_keep_to_one_word(file: Path) -> None:
    assert otherwise(sentences(file.read_text(encoding="utf-8"))) == []


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_the_pages_keep_to_one_word(page: Path) -> None:
    # a key in backticks is written as it is; what a command prints is held to it above
    prose = " ".join(re.sub(r"```.*?```|`[^`]*`", "", text_of(page), flags=re.DOTALL).split())
    assert otherwise(iter([re.sub(r"Instead of: .*?\.(?= |$)", "", prose)])) == []


@pytest.mark.parametrize("name", cli.list_commands(click.Context(cli)))
def test_the_help_of_every_command_keeps_to_one_word(name: str) -> None:
    command = cli.get_command(click.Context(cli), name)
    assert command is not None
    assert otherwise(iter([command.get_help(click.Context(command))])) == []


def test_a_word_that_is_not_its_own_is_noticed() -> None:
    source = '"""Must not be fitted."""\nx = f"{name} must not be fitted"\ny = "unproven"\nz = "2 unproven, 3 outside"'
    assert sorted(otherwise(sentences(source))) == [
        ("must not be fitted", " must not be fitted"),
        ("unproven", "2 unproven, 3 outside"),
    ]
    assert {"hole", "over its window", "not beyond doubt"} <= set(retired())
