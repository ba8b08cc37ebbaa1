"""What is known of each job: its newest answer, and what is still being worked out. A stale plan is dropped."""

from __future__ import annotations

import asyncio
from contextlib import suppress
from dataclasses import KW_ONLY, dataclass, field
from functools import partial
from pathlib import Path
from time import monotonic
from typing import Any

from shimopt.bench.feed import Feed
from shimopt.bench.folder_scan import jobs_below
from shimopt.bench.freshness import Signature, signature_of
from shimopt.bench.planners import DroppedError, Planners, Request
from shimopt.bench.readings import Readings
from shimopt.errors import FaultError, InputError, Problem

# so long a scan of the folder holds at least, and a job that could not be planned is left alone [s]
_SCANNED, _LEFT_ALONE = 2.0, 1.0
# a job that a page waits for is looked at so often [s]
_LOOKED_AT = 1.0
# what no file tells of, a database elsewhere, is asked again after so long; and readings are tried again to be written
_FAR, _AGAIN = 5.0, 5.0
# the order of the stages of an answer
STAGES = ("", "plan", "reasons")


@dataclass(eq=False)
class AtHand:
    """A job with its newest answer: empty where there is none yet; `problems` where it cannot be planned.

    `current` is false while the answer is that of a plan before the one under way; `being_written` while readings are
    put into its files by us, and the plan of what stands there then follows; `not_written` says why readings that are
    kept could not be written yet.
    """

    id: str
    path: Path
    _: KW_ONLY
    answer: dict[str, Any] = field(default_factory=dict)
    problems: tuple[Problem, ...] = ()
    files: tuple[str, ...] = ()
    signature: Signature | None = None
    request: Request | None = None
    at: float = 0.0
    current: bool = False
    being_written: bool = False
    not_written: tuple[Problem, ...] = ()
    news: asyncio.Event = field(default_factory=asyncio.Event)

    def reaches(self, stage: str) -> bool:
        """Whether its answer is the newest that there is to be, and so far."""
        return self.current and STAGES.index(self.answer.get("stage", "")) >= STAGES.index(stage)

    @property
    def fresh(self) -> bool:
        """Whether nothing has changed since it was planned, or began to be."""
        if self.being_written:
            return True
        if self.problems:
            return monotonic() - self.at < _LEFT_ALONE
        if self.answer.get("far") and monotonic() - self.at > _FAR:
            return False
        return self.signature is not None and self.signature == signature_of(self.files)

    def begin(self, request: Request, *, writes: bool) -> None:
        """Another plan of it is under way, which writes readings first or has none to write."""
        self.request, self.at, self.current, self.being_written = request, monotonic(), False, writes
        self.files = self.files or (str(self.path),)
        self.signature = signature_of(self.files)

    def take(self, answer: dict[str, Any]) -> None:
        """A newer answer."""
        self.answer, self.problems, self.current = answer, (), True
        self.files, self.signature = answer["files"], answer["signature"]
        self._tell()

    def wrote(self, signature: Signature, problems: tuple[Problem, ...]) -> None:
        """Readings were written by us: its files are as they are to be."""
        self.signature, self.not_written, self.being_written = signature, problems, False

    def refuse(self, problems: tuple[Problem, ...]) -> None:
        """It cannot be planned."""
        self.answer, self.problems, self.at = {}, problems, monotonic()
        self._tell()

    def goes_on(self, request: Request) -> None:
        """Its reasons are being worked out."""
        self.request = request

    def end(self) -> None:
        """Nothing is under way any more."""
        self.request, self.being_written = None, False
        self._tell()

    def _tell(self) -> None:
        self.news.set()
        self.news = asyncio.Event()


class Desk:
    """All jobs of a folder, as the page knows them."""

    def __init__(self, folder: Path, planners: Planners, feed: Feed, readings: Readings) -> None:
        self.folder = folder
        self._planners, self._feed, self._readings = planners, feed, readings
        self._jobs: dict[str, AtHand] = {}
        self._to_try: set[str] = set()
        self._holds_until = float("-inf")
        self._asked = False

    def jobs(self) -> dict[str, AtHand]:
        """All jobs, in natural order. Raises InputError where the folder is gone."""
        self._asked = True
        # as long as anybody asks, `watch` has scanned it beside all else
        if monotonic() > self._holds_until + _SCANNED:
            self._take(jobs_below(self.folder), 0.0)
        return self._jobs

    def _take(self, found: dict[str, Path], took: float) -> None:
        """What a scan found; that of a large folder holds longer, so that it costs a twentieth of a core at most."""
        if self._jobs and found.keys() != self._jobs.keys():
            self._feed.say("jobs")
        self._jobs = {name: self._jobs.get(name) or AtHand(name, path) for name, path in found.items()}
        self._holds_until = monotonic() + max(_SCANNED, 20 * took)

    def rescan(self) -> None:
        """Look again at once: a job was added."""
        self._holds_until = float("-inf")

    async def _scan(self) -> None:
        """Look again, beside all else, where anybody asks or listens, and the last scan holds no longer."""
        if not (self._asked or self._feed.heard) or monotonic() < self._holds_until:
            return
        self._asked, began = False, monotonic()
        # where it is gone, whoever asks next is told
        with suppress(InputError):
            self._take(await asyncio.to_thread(jobs_below, self.folder), monotonic() - began)

    def job(self, name: str) -> AtHand | None:
        """The job of an id."""
        return self.jobs().get(name)

    def want(self, job: AtHand, turn: int = 1) -> None:
        """See to it that its answer is that of its files as they are now."""
        if not job.fresh:
            self.plan_again(job, turn)

    def plan_again(self, job: AtHand, turn: int = 1) -> None:
        """Plan it now; what is under way for it is stale."""
        if job.request is not None:
            job.request.drop()
        to_write = self._readings.to_write(job.id)
        asked = (str(job.path), job.files or (str(job.path),), to_write)
        # after a reading the reasons wait until no other reading waits for its plan
        request = self._planners.request("plan", *asked, turn > 0, turn=turn, told=partial(self._told, job))
        job.begin(request, writes=bool(to_write))
        self._readings.being_written(job.id, bool(to_write))
        request.found.add_done_callback(partial(self._done, job, request))

    async def answered(self, job: AtHand, stage: str = "plan", within: float = 20.0) -> AtHand:
        """The job, once its answer is fresh and so far, or it cannot be planned, or the time is over."""
        ends = monotonic() + within
        self.want(job)
        while job.request is not None and not job.reaches(stage):
            try:
                await asyncio.wait_for(job.news.wait(), max(0.0, ends - monotonic()))
            except TimeoutError:
                break
        return job

    async def news(self, job: AtHand, within: float) -> None:
        """Wait until there is anything newer of a job, or the time is over."""
        ends = monotonic() + within
        while (left := ends - monotonic()) > 0:
            try:
                await asyncio.wait_for(job.news.wait(), min(left, _LOOKED_AT))
                return
            except TimeoutError:
                # what others write into its files is seen by looking
                self.want(job)

    def write_left(self) -> None:
        """Write what was read and kept, and not written before the page last ended."""
        for job in self.jobs().values():
            if self._readings.to_write(job.id):
                self.plan_again(job)

    async def watch(self) -> None:
        """Look at the jobs whose pages are open, as long as the page is served: others write into their files too."""
        while True:
            await asyncio.sleep(_LOOKED_AT)
            await self._scan()
            for job in [job for name in self._feed.looked_at if (job := self._jobs.get(name)) is not None]:
                if not job.fresh:
                    if job.signature is not None and not job.answer.get("far"):
                        self._feed.say("changed", job=job.id)
                    self.plan_again(job)

    def _try_again(self, job: AtHand) -> None:
        self._to_try.discard(job.id)
        self.plan_again(job, turn=2)

    def _told(self, job: AtHand, answer: dict[str, Any]) -> None:
        if answer["stage"] == "written":
            job.wrote(answer["signature"], answer["problems"])
            self._readings.wrote(job.id, answer["found"], answer["before"], answer["signature"])
            if answer["problems"] and job.id not in self._to_try:
                self._to_try.add(job.id)
                asyncio.get_running_loop().call_later(_AGAIN, self._try_again, job)
            return
        job.take(answer)
        self._feed.say("answer", job=job.id, version=answer["version"], stage=answer["stage"])

    def _done(self, job: AtHand, request: Request, found: asyncio.Future[dict[str, Any]]) -> None:
        if job.request is not request:
            found.exception()
            return
        self._readings.being_written(job.id, False)
        try:
            self._told(job, found.result())
            if job.answer["stage"] != STAGES[-1]:
                self._explain(job, request)
                return
        except InputError as error:
            if error.problems != job.problems:
                self._feed.say("changed", job=job.id)
            job.refuse(error.problems)
        except FaultError as error:
            rule = f"a fault of our own ({error})"
            job.refuse((Problem(str(job.path), "", "", rule, "please report this line with the job's files"),))
        except DroppedError:
            pass
        job.end()

    def _explain(self, job: AtHand, after: Request) -> None:
        """Have the reasons of its plan worked out."""
        asked = (str(job.path), job.files, job.signature)
        request = self._planners.request("reasons", *asked, told=partial(self._told, job), after=after)
        job.goes_on(request)
        request.found.add_done_callback(partial(self._done, job, request))
