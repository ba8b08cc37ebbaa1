"""What a shell runs at the tab key. zsh and fish take what `click` gives them; bash needs names with spaces quoted, and
PowerShell is not known to `click` at all.
"""

from __future__ import annotations

import os
from typing import Any

from click.shell_completion import BashComplete, CompletionItem, ShellComplete, add_completion_class

__all__ = ["add_shells"]

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
        Remove-Item Env:%(complete_var)s, Env:COMP_WORDS, Env:COMP_BEGUN, Env:PYTHONUTF8
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
        words, begun = os.environ["COMP_WORDS"].split("\n")[1:], os.environ["COMP_BEGUN"].strip("'\"")
        return (words[:-1] if os.environ["COMP_BEGUN"] else words), begun

    def format_completion(self, item: CompletionItem[Any]) -> str:
        """A name that is more than one plain word stands in quotes."""
        plain = all(ch.isalnum() or ch in "-_./\\:" for ch in item.value)
        return f"{item.type},{item.value}" if plain else f"{item.type},'{item.value.replace(chr(39), chr(39) * 2)}'"


def add_shells() -> None:
    """Have the shells that `click` asks know both."""
    add_completion_class(_Bash)
    add_completion_class(_PowerShell)
