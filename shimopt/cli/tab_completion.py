"""What a shell offers at the tab key: names of gaps, places, seats and catalogues, as a job's file has them just now.

A file that cannot be read offers nothing, and says nothing: the command itself will. zsh and fish take what `click`
gives them; bash needs names with spaces quoted, and PowerShell is not known to `click` at all.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click
from click.shell_completion import BashComplete, CompletionItem, ShellComplete, add_completion_class

from shimopt.machine import is_folder


def gaps(context: click.Context, _parameter: click.Parameter, begun: str) -> list[CompletionItem]:
    """The job's gaps."""
    return _items(_gap_names(_job_file(context)), begun)


def gaps_of(context: click.Context, _parameter: click.Parameter, begun: str) -> list[CompletionItem]:
    """The job's gaps, each with the sign after which its reading follows."""
    return _items((f"{name}=" for name in _gap_names(_job_file(context))), begun)


def places_of(context: click.Context, _parameter: click.Parameter, begun: str) -> list[CompletionItem]:
    """The job's places, each with the sign after which its pieces follow; if none is written, those of its gaps."""
    file = _job_file(context)
    names = list(_names(_table(file), "place")) or list(_gap_names(file))
    return _items((f"{name}=" for name in names), begun)


def seats(context: click.Context, _parameter: click.Parameter, begun: str) -> list[CompletionItem]:
    """The job's seats."""
    return _items(_names(_table(_job_file(context)), "seat"), begun)


def catalogues(_context: click.Context, _parameter: click.Parameter, begun: str) -> list[CompletionItem]:
    """The catalogues that come with shimopt; where none begins so, files."""
    from shimopt.job import built_in_catalogues

    return _items(sorted(built_in_catalogues()), begun) or [CompletionItem(begun, type="file")]


def _items(names: Iterator[str] | list[str], begun: str) -> list[CompletionItem]:
    return [CompletionItem(name) for name in names if name.startswith(begun) and name.isprintable()]


def _job_file(context: click.Context) -> Path:
    # where an option still waits for its value, the job stands among what is not yet given out
    named = context.params.get("job") or next(iter(context.args), "")
    path = Path(named)
    return path / "job.toml" if is_folder(path) else path


def _table(file: Path) -> dict[str, Any]:
    import tomllib

    try:
        return tomllib.loads(file.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError):
        return {}


def _names(job: dict[str, Any], kind: str) -> Iterator[str]:
    listed = job.get(kind)
    for table in listed if isinstance(listed, list) else []:
        if isinstance(table, dict) and isinstance(table.get("name"), str):
            yield table["name"]


def _gap_names(file: Path) -> Iterator[str]:
    job = _table(file)
    yield from _names(job, "gap")
    if isinstance(job.get("gaps"), str):
        from shimopt.errors import InputError
        from shimopt.machine import beside
        from shimopt.tables.read import read_table

        try:
            table = read_table(beside(file.parent, job["gaps"]), "gaps table")
        except InputError:
            return
        yield from (table.cell(row, "gap") for row in table.rows)


# a word that was begun in quotes is closed by bash itself; after `=` the reading is typed on
_BASH = r"""
%(complete_func)s() {
    local response type value
    response=$(IFS=$'\n'; env COMP_WORDS="${COMP_WORDS[*]}" COMP_CWORD=$COMP_CWORD %(complete_var)s=bash_complete $1)
    while IFS=',' read -r type value; do
        case $type in
        dir) compopt -o dirnames ;;
        file) compopt -o default ;;
        plain)
            [[ $value == *= ]] && compopt -o nospace
            [[ ${COMP_WORDS[COMP_CWORD]} == [\"\']* ]] || printf -v value %%q "$value"
            COMPREPLY+=("$value")
            ;;
        esac
    done <<< "$response"
}
complete -o nosort -F %(complete_func)s %(prog_name)s
"""

_POWERSHELL = r"""
Register-ArgumentCompleter -Native -CommandName %(prog_name)s -ScriptBlock {
    param($wordToComplete, $commandAst, $cursorPosition)
    $words = $commandAst.CommandElements | Where-Object { $_.Extent.EndOffset -le $cursorPosition } |
        ForEach-Object { if ($null -ne $_.Value) { $_.Value } else { $_.Extent.Text } }
    $before = [Console]::OutputEncoding
    [Console]::OutputEncoding = [System.Text.Encoding]::UTF8
    $env:%(complete_var)s = 'powershell_complete'
    $env:COMP_WORDS = $words -join "`n"
    $env:COMP_BEGUN = "$wordToComplete"
    $env:PYTHONUTF8 = '1'
    try {
        %(prog_name)s | ForEach-Object {
            $type, $value = $_ -split ',', 2
            if ($type -eq 'plain') {
                [System.Management.Automation.CompletionResult]::new($value)
            } else {
                [System.Management.Automation.CompletionCompleters]::CompleteFilename("$wordToComplete")
            }
        }
    } finally {
        [Console]::OutputEncoding = $before
        Remove-Item Env:%(complete_var)s, Env:COMP_WORDS, Env:COMP_BEGUN, Env:PYTHONUTF8 -ErrorAction Ignore
    }
}
"""


class _Bash(BashComplete):
    source_template = _BASH


class _PowerShell(ShellComplete):
    name = "powershell"
    source_template = _POWERSHELL

    def get_completion_args(self) -> tuple[list[str], str]:
        """The words before the one that is begun, and that one without its quotes."""
        # PowerShell up to 7.4 takes a variable away that is set to nothing
        words, typed = os.environ["COMP_WORDS"].split("\n")[1:], os.environ.get("COMP_BEGUN", "")
        return (words[:-1] if typed else words), typed.strip("'\"")

    def format_completion(self, item: CompletionItem[Any]) -> str:
        """A name that is more than one plain word stands in quotes."""
        plain = all(ch.isalnum() or ch in "-_./\\:" for ch in item.value)
        return f"{item.type},{item.value}" if plain else f"{item.type},'{item.value.replace(chr(39), chr(39) * 2)}'"


def add_shells() -> None:
    """Have the shells that `click` asks know both."""
    add_completion_class(_Bash)
    add_completion_class(_PowerShell)
