"""The command line: parse, call, render, exit code."""

from shimopt.cli.main import main

__all__ = ["main"]
