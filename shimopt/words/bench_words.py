"""What the bench page says, and what is said of it on the terminal."""

from __future__ import annotations

from shimopt.words.speaker import plural


def served_words(jobs: int, port: int) -> str:
    """Where the page is, and how it is stopped."""
    return f"{plural(jobs, 'job')} at http://127.0.0.1:{port}/ (Ctrl-C ends it)"
