"""Runs shimopt for `harness`: each command in a process of its own, forked from one that has everything loaded.

A line of JSON says what to run, a line of JSON says how it ended. On its way a command passes points: each time it
opens a file below the folder for writing, brings it to the disk, replaces, unlinks or makes one. At one of them it may
be killed, or the call may fail; or it is killed or interrupted once it has gone through a function so many times.
Commands that run at once start together, or go on together from a function that each has come to.
"""

from __future__ import annotations

import builtins
import contextlib
import errno
import gc
import importlib
import io
import json
import multiprocessing.util
import os
import select
import signal
import sys
import tempfile
import time
from collections.abc import Callable
from typing import Any

import psutil

from tests.processes import load_all

__all__: list[str] = []

_LONGEST, _LONGEST_LEFT = 60.0, 20.0
_WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT


class _Points:
    """The points that a command passes, written down before each is passed; what happens at one of them."""

    def __init__(self, folder: str, log: int, do: str | None, at: int) -> None:
        self.folder, self.log, self.do, self.at = os.path.realpath(folder), log, do, at
        self.passed = 0

    def come(self, what: str, path: object) -> None:
        full = os.path.realpath(os.fspath(path))  # type: ignore[call-overload]
        if not full.startswith(self.folder + os.sep):
            return
        self.passed += 1
        os.write(self.log, f"{what} {full[len(self.folder) + 1 :]}\n".encode())
        if self.passed != self.at:
            return
        if self.do == "kill":
            os.kill(os.getpid(), signal.SIGKILL)
        if self.do == "fail" and what != "opened":
            code = errno.EACCES if what in ("unlink", "rmdir", "replace") else errno.ENOSPC
            raise OSError(code, os.strerror(code), str(path))

    def watch(self) -> None:
        for name in ("replace", "rename", "link", "unlink", "remove", "rmdir", "mkdir"):
            self._watch_name(name)
        fsync, opened_by_number = os.fsync, os.open

        def on_disk(file: Any) -> None:
            number = file if isinstance(file, int) else file.fileno()
            self.come("fsync", os.readlink(f"/proc/self/fd/{number}"))
            fsync(number)

        def open_number(path: Any, flags: int, *more: Any, **how: Any) -> int:
            if flags & _WRITES:
                self.come("open", path)
            return opened_by_number(path, flags, *more, **how)

        os.fsync, os.open = on_disk, open_number
        builtins.open = io.open = self._open(io.open)  # type: ignore[assignment]

    def _watch_name(self, name: str) -> None:
        real: Callable[..., None] = getattr(os, name)

        def call(path: Any, *more: Any, **how: Any) -> None:
            beside = how.get("dir_fd")
            full = path if beside is None else os.path.join(os.readlink(f"/proc/self/fd/{beside}"), path)
            self.come("unlink" if name == "remove" else name, full)
            real(path, *more, **how)

        setattr(os, name, call)

    def _open(self, real: Callable[..., Any]) -> Callable[..., Any]:
        def call(file: Any, mode: str = "r", *more: Any, **how: Any) -> Any:
            writes = isinstance(file, str | os.PathLike) and any(sign in mode for sign in "wxa+")
            if writes:
                self.come("open", file)
            found = real(file, mode, *more, **how)
            if writes:
                # from here to the next point whatever was in it may be gone
                self.come("opened", file)
            return found

        return call


def _holder(where: str) -> tuple[Any, str]:
    """What holds a name, and the name in it: `module.name` or `module.Class.name`."""
    holder, _, name = where.rpartition(".")
    try:
        return importlib.import_module(holder), name
    except ModuleNotFoundError:
        module, _, kind = holder.rpartition(".")
        return getattr(importlib.import_module(module), kind), name


def _meets(where: str, together: Callable[[], None]) -> None:
    """Have this process come together with the others the first time that it gets to a function."""
    holder, name = _holder(where)
    real, waited = getattr(holder, name), []

    def call(*given: Any, **how: Any) -> Any:
        if not waited:
            waited.append(True)
            together()
        return real(*given, **how)

    setattr(holder, name, call)


def _ends_after(where: str, times: int, sign: int) -> None:
    """Have this process get a signal once it has gone through a function so many times."""
    holder, name = _holder(where)
    real, gone = getattr(holder, name), []

    def call(*given: Any, **how: Any) -> Any:
        found = real(*given, **how)
        gone.append(True)
        if len(gone) == times:
            # Ctrl-C comes to all who belong to a command
            (os.killpg if sign == signal.SIGINT else os.kill)(os.getpid(), sign)
        return found

    setattr(holder, name, call)


def _in_a_process(request: dict[str, Any], arguments: list[str], files: list[int], pipes: list[tuple[int, int]]) -> int:
    """Fork, and run one command there; the number of the process."""
    child = os.fork()
    if child:
        return child
    try:
        (ready_end, ready), (go, go_end) = pipes
        os.close(ready_end)
        os.close(go_end)
        os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
        os.dup2(files[0], 1)
        os.dup2(files[1], 2)
        os.chdir(request["folder"])
        os.setsid()
        # the tests may have been started in the background, where nobody hears Ctrl-C
        signal.signal(signal.SIGINT, signal.default_int_handler)
        if request["typed"] is not None:
            sys.stdin = io.StringIO(request["typed"])
            sys.stdin.isatty = lambda: True  # type: ignore[method-assign]

        def together() -> None:
            os.close(ready)
            os.read(go, 1)

        if request["meet"]:
            _meets(request["meet"], together)
        else:
            together()
        for name, value in request["set"].items():
            setattr(*_holder(name), value)
        if request["after"]:
            where, times = request["after"]
            _ends_after(where, times, signal.SIGINT if request["do"] == "interrupt" else signal.SIGKILL)
        from shimopt.cli import main

        _Points(request["folder"], files[2], request["do"], request["at"]).watch()
        code: object = 0
        try:
            main(arguments)
        except SystemExit as ended:
            code = ended.code
        sys.stdout.flush()
        sys.stderr.flush()
        # what multiprocessing does when Python ends
        multiprocessing.util._exit_function()  # type: ignore[attr-defined]
        os._exit(code if isinstance(code, int) else 99)
    except BaseException:
        import traceback

        os.write(2, traceback.format_exc().encode())
        os._exit(98)


def _ended(child: int) -> int:
    """The exit code of a process, negative for the signal that ended it; one that goes on too long is ended."""
    watched = os.pidfd_open(child)
    by_itself = bool(select.select([watched], [], [], _LONGEST)[0])
    os.close(watched)
    if not by_itself:
        os.kill(child, signal.SIGKILL)
    code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    return code if by_itself else 97


def _left(child: int) -> list[str]:
    """Who is left, after a while, of the processes that a command started."""
    ends = time.monotonic() + _LONGEST_LEFT
    while True:
        others = [one for one in psutil.process_iter() if one.pid != child and _belongs(one, child)]
        if not others or time.monotonic() > ends:
            return [" ".join(one.cmdline()) for one in others]
        time.sleep(0.01)


def _belongs(one: psutil.Process, command: int) -> bool:
    try:
        return os.getsid(one.pid) == command and one.status() != psutil.STATUS_ZOMBIE
    except (psutil.NoSuchProcess, ProcessLookupError):
        return False


def _answer(request: dict[str, Any]) -> list[dict[str, Any]]:
    pipes = [os.pipe(), os.pipe()]
    running: list[tuple[int, list[Any]]] = []
    for arguments in request["commands"]:
        files = [tempfile.TemporaryFile() for _ in range(3)]  # noqa: SIM115 (read when the process has ended)
        running.append((_in_a_process(request, arguments, [file.fileno() for file in files], pipes), files))
    (ready_end, ready), (go, go_end) = pipes
    os.close(ready)
    # at its end when everybody is ready, or has come to an end without
    os.read(ready_end, 1)
    os.close(go_end)
    found = []
    for child, files in running:
        code = _ended(child)
        left = _left(child) if request["do"] == "interrupt" else []
        texts = []
        for file in files:
            file.seek(0)
            texts.append(file.read().decode(errors="replace"))
            file.close()
        found.append({"code": code, "out": texts[0], "err": texts[1], "points": texts[2].splitlines(), "left": left})
    os.close(ready_end)
    os.close(go)
    return found


def _warm() -> None:
    """Have everything made once that a process makes at its first plan: no command then has to make it again.

    Nothing that starts threads of its own: in a fork they would be missing.
    """
    from shimopt.cli import main

    with tempfile.TemporaryDirectory() as folder, contextlib.redirect_stdout(io.StringIO()):
        job = os.path.join(folder, "job")
        record = ("--after", "left arm=10", "--person", "nobody", "--instrument", "none")
        for words in (("new", job, "--yes"), ("letter", job, "-o", f"{folder}/letter.html"), ("record", job, *record)):
            with contextlib.suppress(SystemExit):
                main(list(words))


def _serve() -> None:
    load_all()
    _warm()
    gc.freeze()
    answers = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(2, 1)
    for line in sys.stdin:
        print(json.dumps(_answer(json.loads(line))), file=answers, flush=True)


if __name__ == "__main__":
    _serve()
