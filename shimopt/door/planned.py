"""A plan as Python holds it: frames in millimetres, the JSON object, what `why` says, the customer's letter."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from shimopt.arithmetic import Outcome
from shimopt.arithmetic.clearance import Stack
from shimopt.door.given import JobLike, decided_in_time, known, loaded, unit_for, watch_of
from shimopt.errors import InputError
from shimopt.job import Job
from shimopt.lengths import Bracket, mm_number
from shimopt.planner import Decision
from shimopt.watch import PLAN_STEPS
from shimopt.words.speaker import Speaker, plural

if TYPE_CHECKING:
    import pandas as pd

_MOST_ROWS_SHOWN = 40


@dataclass(frozen=True, repr=False)
class Plan:
    """One stack for every place, with its proof and its reasons; `decision` holds all of it as data.

    `gaps`, `places` and `moves` are pandas frames: lengths in millimetres, exact to the nanometre, in columns that end
    in `_mm`. They are made anew each time they are asked for.
    """

    decision: Decision

    @property
    def job(self) -> Job:
        """The job that was planned."""
        return self.decision.job

    @property
    def outcome(self) -> Outcome:
        """What the plan does: every gap, every balance, the value of every level, as exact numbers [nm]."""
        return self.decision.outcome

    @property
    def stacks(self) -> Mapping[str, Stack]:
        """By place, the pieces that go in, as indices of `job.stock`."""
        return self.decision.stacks

    @property
    def doable(self) -> bool:
        """Whether every gap comes inside, every stated `within` is met, and nothing has to be found out before."""
        return self.decision.doable

    @property
    def proven(self) -> bool:
        """Whether every level is proven best."""
        return self.decision.proven

    @property
    def gaps(self) -> pd.DataFrame:
        """One row per gap: as read, its window, and as it is after shimming.

        >>> import shimopt
        >>> frame = shimopt.plan("demo_data/swing-bridge").gaps
        >>> frame.loc[0, ["gap", "verdict"]].tolist()
        ['upper 1', 'inside']
        """
        rows = []
        for gap in self.job.gaps:
            window, found = gap.window, self.outcome.gaps[gap.name]
            limits = {"min_mm": window.stated_min, "max_mm": window.max, "target_mm": window.target}
            rows.append(
                {"gap": gap.name}
                | _bracket("read", gap.reading.bracket)
                | {name: None if limit is None else mm_number(limit) for name, limit in limits.items()}
                | _bracket("after", found.after)
                | {"verdict": found.verdict, "chance": float(found.chance)}
            )
        columns = ("gap", *_ends("read"), "min_mm", "max_mm", "target_mm", *_ends("after"), "verdict", "chance")
        return _frame(rows, columns)

    @property
    def places(self) -> pd.DataFrame:
        """One row per place: its seat, its stack in words and how thick that is.

        >>> import shimopt
        >>> shimopt.plan("demo_data/swing-bridge").places["stack"].tolist()
        ['R-07', '', '', '', 'W-08']
        """
        say, rows = Speaker.of(self.job, buys=self.decision.buy), []
        for place in self.job.places:
            stack = self.stacks.get(place.name, ())
            rows.append(
                {
                    "place": place.name,
                    "seat": place.seat.name if place.seat else None,
                    "stack": say.stack(stack, place.name) if stack else "",
                    "pieces": len(stack),
                }
                | _bracket("thickness", self.outcome.thickness[place.name])
            )
        return _frame(rows, ("place", "seat", "stack", "pieces", *_ends("thickness")))

    @property
    def moves(self) -> pd.DataFrame:
        """One row per single piece that is moved: part, piece, from where to where, and out of which place it came.

        >>> import shimopt
        >>> shimopt.plan("demo_data/swing-bridge").moves[["part", "from", "to"]].values.tolist()
        [['R-07', 'drawer', 'upper 1'], ['W-08', 'drawer', 'lower 2']]
        """
        rows = []
        for move in self.decision.moves:
            part = self.job.stock[move.line].part
            went = {"from": move.source, "to": move.target, "out_of": move.out_of}
            rows.append({"part": part.name, "piece": part.piece} | went)
        return _frame(rows, ("part", "piece", "from", "to", "out_of"))

    def to_dict(self) -> dict[str, Any]:
        """The object that `shimopt plan --json` prints: lengths in mm as numbers, exact to the nanometre."""
        from shimopt.render.json.plan_json import plan_object

        return plan_object(self.decision)

    def __repr__(self) -> str:
        """One line: what is doable, and how far it is proven."""
        inside = sum(found.verdict == "inside" for found in self.outcome.gaps.values())
        pieces = plural(int(self.outcome.levels["pieces"]), "piece")
        proof = "proven" if self.proven else "not proven"
        title = self.job.title[:60]
        return f"<Plan of {title!r}: {inside} of {plural(len(self.job.gaps), 'gap')} inside, {pieces}, {proof}>"

    def _repr_html_(self) -> str:
        """What a notebook shows: the answer in one sentence, and the gaps as a table."""
        from shimopt.words.headline import headline

        answer = headline(self.decision, Speaker.of(self.job, buys=self.decision.buy))
        table = self.gaps.to_html(index=False, max_rows=_MOST_ROWS_SHOWN, border=0)
        return f"<p><b>{escape(self.job.title)}</b>: {escape(answer)}</p>\n{table}"


# the options of the command, each by its name, and one that was called otherwise once
def plan(
    job: JobLike,
    buy: bool = False,
    *,
    time_limit: float | None = None,
    steps: int | None = PLAN_STEPS,
    choices: bool = False,
    progress: Callable[[str], None] | None = None,
    nodes: int | None = PLAN_STEPS,
) -> Plan:
    """Choose one stack per place, proven level by level, with reasons.

    Parameters: job, a Job, the path of a job file or its folder, or a mapping with the keys of one; buy, whether what
    the catalogues offer may be used too; time_limit, seconds after which the best plan so far is taken, with its
    bounds; steps, the most search steps (None: no limit), so that the same job gives the same plan everywhere; choices,
    whether to weigh the plan against fewer and more pieces; progress, told what begins.
    Raises InputError with everything that is wrong, FaultError where the result fails its own check.

    >>> import shimopt
    >>> shimopt.plan("demo_data/swing-bridge")
    <Plan of 'Swing bridge drive, idler shafts': 5 of 5 gaps inside, 2 pieces, proven>
    """
    # what `steps` was called before; who names it means the same
    watch = watch_of(time_limit, steps if nodes == PLAN_STEPS else nodes, progress)
    return Plan(decided_in_time(loaded(job), watch, buy=buy, choices=choices))


def why(of: Plan | JobLike, gap: str | None = None, *, unit: str | None = None, width: int = 80) -> str:
    """Why this stack and not another, with the numbers worked through: what `shimopt why` prints.

    Parameters: of, a plan, or a job that is planned first; gap, the one to explain (all if not given); unit, mm, um, in
    or thou (the job's own if not given); width of the lines in characters. Raises InputError.

    >>> import shimopt
    >>> "W-08" in shimopt.why("demo_data/swing-bridge", "lower 2")
    True
    """
    from shimopt.render.screens.why_screen import why_lines

    made = _planned(of)
    gaps = list(made.job.gap) if gap is None else [known(gap, made.job.gap, "gap", "gap")]
    return "\n".join(line for line, _ in why_lines(made.decision, gaps, unit_for(made.job, unit), width))


def letter(
    of: Plan | JobLike,
    output: str | os.PathLike[str],
    *,
    written: date | None = None,
    paper: Literal["a4", "letter"] = "a4",
    unit: str | None = None,
) -> Path:
    """Write the customer's letter, and return where it is.

    Parameters: of, a plan, or a job that is planned first; output, a file that ends in .pdf or .html; written, the date
    on it (today if not given; with it, the same job gives the same bytes); paper, of a PDF; unit, mm, um, in or thou
    (the job's own if not given). Raises InputError, also where the file would replace one of the job's own.

    >>> import shimopt, tempfile
    >>> folder = tempfile.mkdtemp()
    >>> shimopt.letter("demo_data/swing-bridge", folder + "/letter.html").name
    'letter.html'
    """
    from shimopt.render.papers.letter import letter_content
    from shimopt.render.papers.typeset import typeset
    from shimopt.tables.replacing import refuse_ending, refuse_input, replace_file

    path, made = Path(output), _planned(of)
    refuse_ending(path, (".pdf", ".html"), where="output")
    if paper not in ("a4", "letter"):
        rule, remedy = "a paper is a4 or letter", "name one of these"
        raise InputError.at("", rule, remedy, where="paper", value=str(paper))
    refuse_input(path, made.job.inputs, where="output")
    day = written or datetime.now(UTC).astimezone().date()
    content = letter_content(made.decision, unit_for(made.job, unit), day.isoformat())
    replace_file(path, typeset(content, path, paper, datetime.combine(day, time(), UTC)).file)
    return path


def _planned(of: Plan | JobLike) -> Plan:
    return of if isinstance(of, Plan) else plan(of)


def _ends(name: str) -> tuple[str, str, str]:
    return f"{name}_low_mm", f"{name}_best_mm", f"{name}_high_mm"


def _bracket(name: str, bracket: Bracket) -> dict[str, Any]:
    ends = (bracket.low, bracket.best, bracket.high)
    return {column: mm_number(nm) for column, nm in zip(_ends(name), ends, strict=True)}


def _frame(rows: list[dict[str, Any]], columns: tuple[str, ...]) -> pd.DataFrame:
    import pandas as pd

    return pd.DataFrame(rows, columns=list(columns))
