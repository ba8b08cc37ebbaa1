"""Whole batches: every piece answered, on all cores or a cluster, and put together; nothing finished is done again."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from dataclasses import dataclass, replace
from pathlib import Path

from shimopt import __version__
from shimopt.batch import csv_source
from shimopt.batch import sources as sources_module
from shimopt.batch.answers import Answers, Counts
from shimopt.batch.packing import FORMATS, packed
from shimopt.batch.sources import sources_of
from shimopt.batch.table_pieces import Piece, Source
from shimopt.batch.terms import Terms
from shimopt.batch.unfinished import Unfinished
from shimopt.errors import InputError
from shimopt.machine import cores
from shimopt.tables.files import file_fingerprint
from shimopt.tables.locking import locked

# a worker answers pieces: given (number, piece)s, it gives (number, counts, content) in any order
Worker = Callable[["Batch", Iterator[tuple[int, Piece]]], Iterator[tuple[int, Counts, bytes]]]


class Batch:
    """All that is needed to answer a piece; the same in this process and in any other."""

    def __init__(self, sources: list[Source], terms: Terms, form: str, exact_names: bool) -> None:
        self.sources = {source.path: source for source in sources}
        self.terms, self.form, self.exact_names = terms, form, exact_names
        self.answers = Answers(terms)

    def __reduce__(self) -> tuple[object, ...]:
        # the stacks are worked out again where they are needed, rather than sent
        return Batch, (list(self.sources.values()), self.terms, self.form, self.exact_names)

    def answer(self, number: int, piece: Piece) -> tuple[int, Counts, bytes]:
        """The answers to one piece, with its number and counts. Raises InputError."""
        source = self.sources[piece.path]
        cells = source.read(piece)
        answered = self.answers.of(
            cells.columns, source.header.unit_of, decimal_comma=source.decimal_comma, broken=cells.broken
        )
        return number, answered.counts, packed(answered, self.form, exact_names=self.exact_names)


@dataclass(frozen=True, slots=True)
class Result:
    """What a batch came to.

    `resumed` pieces were there from before, `begun_anew` if they were of other inputs; `stray` counts files that lay
    among them and were none.
    """

    counts: Counts
    resumed: int
    begun_anew: bool
    stray: int
    not_read: tuple[tuple[str, str], ...]


def run_batch(
    gaps: Path,
    out: Path,
    terms: Terms,
    *,
    exact_names: bool = False,
    worker: Worker | None = None,
    progress: Callable[[float, Counts], None] | None = None,
) -> Result:
    """Answer all gaps of a table or a folder of tables into a CSV or parquet file. Raises InputError.

    Parameters: exact_names, whether a CSV has names as they are, also where a spreadsheet runs them; worker, who
    answers the pieces (None: threads on all cores); progress, told the share that is done and the counts so far, after
    every piece.
    """
    form = out.suffix.lower()
    if form not in FORMATS:
        raise InputError.at(out, "the output is neither CSV nor parquet", "name it .csv or .parquet")
    if not out.parent.is_dir():
        raise InputError.at(out, "the output's folder is not there", "make it, or name another")
    sources = sources_of(gaps, terms)
    batch = Batch(sources, terms, form, exact_names)
    not_read = terms.not_read + tuple((Path(s.path).name, c) for s in sources for c in s.header.not_read)
    with locked(out, 0.0, "output"):
        kept = Unfinished(out, _fingerprint(sources, terms, form, exact_names=exact_names), form)
        shares: dict[int, float] = {}
        done, counts, resumed = 0.0, Counts(), 0

        def left() -> Iterator[tuple[int, Piece]]:
            nonlocal done, counts, resumed
            number = -1
            for number, (piece, share) in enumerate(_pieces(sources)):
                if number in kept.done:
                    done, counts, resumed = done + share, counts + kept.done[number], resumed + 1
                else:
                    shares[number] = share
                    yield number, piece
            kept.only(number + 1)

        try:
            for number, own, content in (worker or on_threads)(batch, left()):
                kept.keep(number, own, content)
                counts, done = counts + own, done + shares.pop(number)
                if progress:
                    progress(done, counts)
            kept.finish()
        finally:
            kept.stop()
    return Result(counts, resumed, kept.begun_anew, kept.stray, tuple(dict.fromkeys(not_read)))


def _pieces(sources: list[Source]) -> Iterator[tuple[Piece, float]]:
    """All pieces, each with its share of the whole."""
    everything = sum(source.size for source in sources)
    for source in sources:
        yield from ((piece, source.share(piece) * source.size / everything) for piece in source.pieces())


def on_threads(batch: Batch, pieces: Iterator[tuple[int, Piece]]) -> Iterator[tuple[int, Counts, bytes]]:
    """Answer pieces on all cores, a few at a time, so that memory stays bounded. Arrow and numpy let threads run."""
    with ThreadPoolExecutor(cores()) as pool:
        yield from in_flight(pieces, lambda number, piece: pool.submit(batch.answer, number, piece), cores() + 1)


def in_flight(
    pieces: Iterator[tuple[int, Piece]],
    submit: Callable[[int, Piece], Future[tuple[int, Counts, bytes]]],
    most: int,
) -> Iterator[tuple[int, Counts, bytes]]:
    """Results as they come, with at most so many pieces under way."""
    under_way: set[Future[tuple[int, Counts, bytes]]] = set()
    try:
        for number, piece in pieces:
            under_way.add(submit(number, piece))
            if len(under_way) >= most:
                finished, under_way = wait(under_way, return_when=FIRST_COMPLETED)
                yield from (future.result() for future in finished)
        while under_way:
            finished, under_way = wait(under_way, return_when=FIRST_COMPLETED)
            yield from (future.result() for future in finished)
    finally:
        for future in under_way:
            future.cancel()


def _fingerprint(sources: list[Source], terms: Terms, form: str, *, exact_names: bool = False) -> str:
    """What the answers depend on: version, terms with the content of their files, and the gaps' files as they are."""
    files = []
    for source in sources:
        info = os.stat(source.path)
        files.append((os.path.abspath(source.path), info.st_size, info.st_mtime_ns))
    # a set is written in another order by every process
    seats = [(replace(seat, absent=frozenset()), sorted(seat.absent)) for seat in terms.seats.values()]
    said = (
        __version__,
        form,
        exact_names,
        csv_source.PIECE_BYTES,
        sources_module.PIECE_ROWS,
        files,
        [file_fingerprint(Path(path)) for path in terms.inputs],
        replace(terms, seats={}),
        seats,
    )
    return hashlib.sha256(repr(said).encode()).hexdigest()
