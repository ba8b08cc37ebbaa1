"""The command as a process of its own, without the third of a second in which it loads: forked from one that has.

A fork has its own folder, environment, streams and signals, runs `python -m shimopt` from its first line on, and is
ended by a signal as any process is. What Python reads once, at its start, a fork cannot have otherwise: whoever asks
for that gets a process that is started, and so does everybody where processes are not forked safely. What is measured
or looked at while a program loads is not started here.
"""

from __future__ import annotations

import atexit
import gc
import importlib
import io
import json
import os
import pkgutil
import runpy
import selectors
import signal
import socket
import subprocess
import sys
import threading
import time
import traceback
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path
from typing import IO, Any

__all__ = ["Running", "load_all", "ran", "started"]

ROOT = Path(__file__).parents[1]
# what reads these does so before anything of ours is run; those of the second kind are read anew for each fork
_READ_AT_START, _READ_ANEW = ("PYTHON", "LC_", "LANG", "LD_"), ("PYTHONIOENCODING", "PYTHONUNBUFFERED", "PYTHONPATH")
_MORE = ("openpyxl", "pint", "tomlkit", "typst", "filelock", "highspy", "pyarrow.parquet", "jinja2", "rich.console")
# run as `__main__`, from the first line on
_RUN = ("shimopt.__main__", "shimopt.bench.planning_process")
_LONGEST = 120.0


class Running:
    """A process that is forked elsewhere; as `subprocess.Popen`, as far as tests ask."""

    def __init__(self, line: socket.socket, stdin: Any, stdout: Any, stderr: Any) -> None:
        self._line, self.stdin, self.stdout, self.stderr = line, stdin, stdout, stderr
        self.returncode: int | None = None
        self.pid = int(line.recv(64))

    def poll(self) -> int | None:
        """The exit code, negative for the signal that ended it; None while it runs."""
        if self.returncode is None:
            self._line.setblocking(False)
            with suppress(BlockingIOError):
                self._hear()
        return self.returncode

    def wait(self, timeout: float | None = None) -> int:
        """The exit code, once it has ended."""
        if self.returncode is None:
            self._line.settimeout(timeout)
            try:
                self._hear()
            except TimeoutError:
                raise subprocess.TimeoutExpired("a fork", timeout or 0.0) from None
        assert self.returncode is not None
        return self.returncode

    def _hear(self) -> None:
        told = self._line.recv(64)
        assert told, "the process that forks has gone"
        self.returncode = int(told)
        self._line.close()

    def send_signal(self, sign: int) -> None:
        if self.poll() is None:
            os.kill(self.pid, sign)

    def kill(self) -> None:
        self.send_signal(signal.SIGKILL)

    def communicate(self, timeout: float | None = None) -> tuple[Any, Any]:
        """What it said, once it has ended."""
        with ThreadPoolExecutor(2) as readers:
            said = [readers.submit(stream.read) if stream else None for stream in (self.stdout, self.stderr)]
            try:
                self.wait(timeout)
            except subprocess.TimeoutExpired:
                self.kill()
                raise
            found = [one.result() if one else None for one in said]
        for stream in (self.stdin, self.stdout, self.stderr):
            if stream:
                stream.close()
        return found[0], found[1]

    def __enter__(self) -> Running:
        return self

    def __exit__(self, *_: object) -> None:
        for stream in (self.stdin, self.stdout, self.stderr):
            if stream:
                stream.close()
        self.wait()


def started(
    *arguments: str | Path,
    module: str = "shimopt",
    program: str = "",
    cwd: Path | str | None = None,
    env: Mapping[str, str] | None = None,
    text: bool = True,
    process_group: int | None = None,
    **streams: IO[Any] | int | None,
) -> Any:
    """`python -m shimopt` with these arguments: a fork where that is safe and tells no difference, else started.

    Parameters: module, another one; program, what is run instead, as by `python -c`; env, all of its environment;
    text, else bytes go through its pipes; streams, its `stdin`, `stdout` and `stderr`, as `Popen` takes them.
    """
    words, own = [str(word) for word in arguments], dict(os.environ if env is None else env)
    encoding = "utf-8" if text else None
    if not _can_be_forked(own):
        command = [sys.executable, *(("-c", program) if program else ("-m", module)), *words]
        return subprocess.Popen(
            command,
            cwd=cwd,
            env=own,
            encoding=encoding,
            process_group=process_group,
            **streams,  # type: ignore[call-overload]
        )
    theirs, ours = list[int](), list[Any]()
    for number, name in enumerate(("stdin", "stdout", "stderr")):
        stream = streams.get(name)
        given, kept = number, None
        if stream == subprocess.PIPE:
            ends = os.pipe()
            given, kept = ends if name == "stdin" else ends[::-1]
            kept = os.fdopen(kept, ("w" if name == "stdin" else "r") + ("" if text else "b"), encoding=encoding)
        elif stream == subprocess.DEVNULL:
            given = os.open(os.devnull, os.O_RDWR)
        elif stream is not None:
            given = os.dup(stream if isinstance(stream, int) else stream.fileno())
        theirs.append(given)
        ours.append(kept)
    told = {
        "module": module,
        "program": program,
        "words": words,
        "env": own,
        "folder": os.path.abspath(cwd or "."),
        "group": process_group,
    }
    line = socket.socket(socket.AF_UNIX, socket.SOCK_SEQPACKET)
    line.connect(_door())
    socket.send_fds(line, [json.dumps(told).encode()], theirs)
    for given in theirs:
        if given > 2:
            os.close(given)
    return Running(line, *ours)


def ran(*arguments: str | Path, timeout: float = _LONGEST, **how: Any) -> subprocess.CompletedProcess[Any]:
    """The same, once it has ended: what it printed, and its exit code."""
    process = started(
        *arguments, **{"stdin": subprocess.DEVNULL, "stdout": subprocess.PIPE, "stderr": subprocess.PIPE} | how
    )
    out, err = process.communicate(timeout=timeout)
    return subprocess.CompletedProcess([str(word) for word in arguments], process.returncode, out, err)


def _can_be_forked(env: Mapping[str, str]) -> bool:
    """Whether Python reads at its start what the process that forks has read."""

    def read_at_start(names: Mapping[str, str]) -> dict[str, str]:
        return {n: v for n, v in names.items() if n.startswith(_READ_AT_START) and n not in _READ_ANEW}

    if sys.platform != "linux" or env.get("PYTHONIOENCODING", "utf-8").lower() != "utf-8":
        return False
    _door()
    return read_at_start(env) == read_at_start(_begun_with)


_begun_with: dict[str, str] = {}
_doors: list[str] = []


def _door() -> str:
    """Where the process is asked that forks; it ends when this one has."""
    if not _doors:
        _begun_with.update(os.environ)
        server = subprocess.Popen(
            [sys.executable, "-m", "tests.processes"], cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE
        )
        assert server.stdin is not None
        assert server.stdout is not None
        _doors.append("\0" + server.stdout.readline().decode().strip())
        atexit.register(server.wait)
        atexit.register(server.stdin.close)
    return _doors[0]


def load_all() -> None:
    """Load all of the package, and what commands load when they need it."""
    for name in _MORE:
        importlib.import_module(name)
    for module in pkgutil.walk_packages(importlib.import_module("shimopt").__path__, "shimopt."):
        if module.name not in _RUN:
            importlib.import_module(module.name)


def _serve() -> None:
    """Fork for whoever asks, and tell him how it ended, until the standard input ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    load_all()
    gc.freeze()
    door = socket.socket(socket.AF_UNIX, socket.SOCK_SEQPACKET)
    door.bind(f"\0shimopt tests {os.getpid()}")
    door.listen(64)
    looked_at = selectors.DefaultSelector()
    looked_at.register(door, selectors.EVENT_READ)
    looked_at.register(0, selectors.EVENT_READ)
    _doors.append(f"\0shimopt tests {os.getpid()}")
    print(_doors[0][1:], flush=True)
    while True:
        for key, _ in looked_at.select():
            if key.fileobj == 0:
                return
            if key.fileobj is not door:
                looked_at.unregister(key.fd)
                os.close(key.fd)
                child, line = key.data
                _tell(line, os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]))
                line.close()
                continue
            line = door.accept()[0]
            raw, given, _, _ = socket.recv_fds(line, 1_000_000, 3)
            child = os.fork()
            if child == 0:
                for other in looked_at.get_map().values():
                    if other.data:
                        other.data[1].close()
                        os.close(other.fd)
                door.close()
                line.close()
                looked_at.close()
                # the tests may have been started in the background, where nobody hears Ctrl-C
                signal.signal(signal.SIGINT, signal.default_int_handler)
                _become(json.loads(raw), given)
            for stream in given:
                os.close(stream)
            _tell(line, child)
            looked_at.register(os.pidfd_open(child), selectors.EVENT_READ, (child, line))


def _tell(line: socket.socket, number: int) -> None:
    # perhaps nobody waits for it
    with suppress(BrokenPipeError):
        line.send(str(number).encode())


def _become(told: Mapping[str, Any], streams: list[int]) -> None:
    """What was asked for, in this process that was forked for it, to its end."""
    for number, stream in enumerate(streams):
        os.dup2(stream, number)
    for stream in streams:
        os.close(stream)
    if told["group"] is not None:
        os.setpgid(0, told["group"])
    os.chdir(told["folder"])
    os.environ.clear()
    os.environ.update(told["env"])
    time.tzset()
    sys.path[0] = told["folder"]
    for number, name in enumerate(("stdin", "stdout", "stderr")):
        stream = _as_at_start(number, name)
        setattr(sys, name, stream)
        setattr(sys, f"__{name}__", stream)
    code: object = 0
    sys.argv = ["-c" if told["program"] else told["module"], *told["words"]]
    try:
        if told["words"][:1] == ["bench"]:
            _with_forked_planners()
        if told["program"]:
            exec(told["program"], {"__name__": "__main__"})
        else:
            runpy.run_module(told["module"], run_name="__main__", alter_sys=True)
    except SystemExit as ended:
        code = ended.code
        if isinstance(code, str):
            print(code, file=sys.stderr)
    except BaseException:
        traceback.print_exc()
        code = 1
    # as Python ends
    threading._shutdown()  # type: ignore[attr-defined]
    atexit._run_exitfuncs()
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(code if isinstance(code, int) else 0 if code is None else 1)


def _as_at_start(number: int, name: str) -> io.TextIOWrapper:
    """A stream as Python makes it at its start."""
    writes = number > 0
    raw: Any = io.FileIO(number, "w" if writes else "r", closefd=False)
    at_once = writes and bool(os.environ.get("PYTHONUNBUFFERED"))
    kept: Any = raw if at_once else io.BufferedWriter(raw) if writes else io.BufferedReader(raw)
    raw.name = f"<{name}>"
    errors = "backslashreplace" if name == "stderr" else "strict"
    made = io.TextIOWrapper(
        kept, "utf-8", errors, "\n", line_buffering=name == "stderr" or raw.isatty(), write_through=at_once
    )
    made.mode = "w" if writes else "r"  # type: ignore[misc]
    return made


def _with_forked_planners() -> None:
    """The page's planning processes are forked, too, from the same process as the page."""
    planners = importlib.import_module("shimopt.bench.planners")
    honest = planners.subprocess

    class Planned:
        PIPE = honest.PIPE

        @staticmethod
        def Popen(command: list[str], **how: Any) -> Any:  # noqa: N802 (as it is called where it is asked)
            return started(module=command[-1], text=False, **how)

    planners.subprocess = Planned


if __name__ == "__main__":
    _serve()
