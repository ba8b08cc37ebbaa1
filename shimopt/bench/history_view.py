"""What a shop's records tell, as plain data: the texts of `shimopt history`, and how gaps wear as a picture."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from shimopt.errors import InputError, shown
from shimopt.job import load_job
from shimopt.learning.history import HistoryFiles, history_of
from shimopt.render.pictures.wear_plot import wear_plot
from shimopt.render.screens.history_screen import history_sections
from shimopt.words.came_back_words import PLOT_TITLE
from shimopt.words.history_words import NOTHING_KNOWN, counted_apart


def history_data(paths: Sequence[Path]) -> dict[str, Any]:
    """Sections of all jobs that can be read, in the unit of the first."""
    files, broken, unit = list[tuple[str, Path]](), list[str](), ""
    for path in paths:
        try:
            unit = unit or load_job(path).unit
            files.append((path.parent.name, path))
        except InputError:
            broken.append(shown(path.parent.name))
    history = history_of(HistoryFiles(tuple(files), ()))
    sections = history_sections(history, unit or "mm")
    return {
        "sections": [
            {"title": title, "told": [{"head": head, "texts": texts} for head, texts in told]}
            for title, told in sections
        ],
        "nothing": "" if sections else NOTHING_KNOWN,
        "broken": broken,
        "asked": [counted_apart(problem) for problem in history.asked],
        "svg": wear_plot(history.wear, unit) if history.wear else "",
        "alt": PLOT_TITLE,
    }
