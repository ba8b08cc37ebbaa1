"""How long a computation may go on, and what it has found so far: asked and told by whoever computes, from any thread.

Whoever waits gives the time or the steps, may stop it at any moment, and reads the best that was found until then.
Plain attributes, each written by one side: no lock is needed, and nothing here can block.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from time import monotonic
from typing import Any, Protocol

# search steps where nobody says how many, of a whole plan and for each question of an order: counted, not timed, so
# that the same job gives the same answer everywhere
PLAN_STEPS, ORDER_STEPS = 5_000, 50


class Limit(Protocol):
    """When to stop."""

    def over(self) -> bool:
        """Whether to stop here; asked before every step."""


class Few:
    """So many steps at most, within another limit."""

    def __init__(self, steps: int, limit: Limit) -> None:
        self.left, self.limit = steps, limit

    def over(self) -> bool:
        """Whether either is reached."""
        self.left -= 1
        return self.left < 0 or self.limit.over()


class Watch:
    """A deadline, a limit in steps, and the best so far.

    Parameters: seconds, wall time from now until it is over (None: no limit); steps, the most search steps (None: no
    limit), counted by whoever searches so that the same limit gives the same answer everywhere; progress, told what
    begins.
    """

    def __init__(
        self,
        seconds: float | None = None,
        steps: int | None = None,
        progress: Callable[[str], None] | None = None,
    ) -> None:
        self.seconds = seconds
        self.steps = steps
        self._spent = 0
        self._best: object | None = None
        # the best so far of a search under way, worked out when somebody asks
        self._to_be_worked_out: deque[Callable[[], tuple[object, tuple[Any, ...]]]] = deque()
        self._judged: tuple[Any, ...] = ()
        self._end = self._deadline = None if seconds is None else monotonic() + seconds
        self._stopped = False
        self._whole: Watch | None = None
        self._progress = progress

    def begins(self, what: str) -> None:
        """Say what is being done from here on."""
        if self._progress is not None:
            self._progress(what)

    def told(self, best: object, judged: tuple[Any, ...] = ()) -> None:
        """Keep what is whole and the best so far; it replaces what was told before, unless that was better.

        What is still to be worked out was found on the way to it. Parameters: judged, the values by which it is judged,
        lower is better; none: it surely is not worse.
        """
        self._to_be_worked_out.clear()
        self._keep(best, judged)

    def on_the_way(self, found: Callable[[], tuple[object, tuple[Any, ...]]]) -> None:
        """Keep how the best so far is worked out, and by what it is judged: it often changes, is seldom asked for."""
        self._to_be_worked_out.append(found)

    @property
    def best(self) -> object | None:
        """The best so far; None where nothing was told."""
        with suppress(IndexError):
            while True:
                self._keep(*self._to_be_worked_out.popleft()())
        return self._best

    def _keep(self, best: object, judged: tuple[Any, ...]) -> None:
        if judged <= self._judged or not self._judged:
            self._best, self._judged = best, judged

    def keep_back(self, seconds: float) -> None:
        """Be over so much sooner, for what comes after the search takes that long; half of what is left stays."""
        if self._deadline is not None:
            self._deadline -= max(0.0, min(seconds, (self._deadline - monotonic()) / 2))

    def to_the_end(self) -> float | None:
        """Seconds to the end of the time as it was given, whatever is kept back or stopped; below 0 after it."""
        return None if self._end is None else self._end - monotonic()

    def stop(self) -> None:
        """Be over from now on, whatever time is left."""
        self._stopped = True

    def spend(self, steps: int) -> None:
        """So many search steps more were taken."""
        self._spent += steps

    def steps_left(self) -> int | None:
        """How many steps are left; None where there is no limit."""
        return None if self.steps is None else max(0, self.steps - self._spent)

    @contextmanager
    def part(self, steps: int) -> Iterator[Watch]:
        """A limit of so many of the steps that are left, and the time that is; what it spent is spent here too."""
        left = self.steps_left()
        part = Watch(self.left(), steps if left is None else min(steps, left))
        part._whole = self
        try:
            yield part
        finally:
            self.spend(part._spent)

    @contextmanager
    def half(self) -> Iterator[Watch]:
        """Half of the steps that are left, so that what comes after has some too; without a limit there is none."""
        left = self.steps_left()
        if left is None:
            yield self
            return
        with self.part(-(-left // 2)) as part:
            yield part

    def over(self) -> bool:
        """Whether to come to an end with what there is: asked between solves and in long loops."""
        late = self._deadline is not None and monotonic() >= self._deadline
        return self._stopped or late or self.steps_left() == 0 or (self._whole is not None and self._whole.over())

    def left(self) -> float | None:
        """Seconds left, for a solver's own limit; None where there is no limit."""
        if self._stopped or (self._whole is not None and self._whole.left() == 0.0):
            return 0.0
        return None if self._deadline is None else max(0.0, self._deadline - monotonic())
