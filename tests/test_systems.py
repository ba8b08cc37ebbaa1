"""The same on every system: what Windows has not is asked for in one file, and what it does otherwise is simulated."""

from __future__ import annotations

import ast
import errno
import os
import re
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path

import pytest

import shimopt
from shimopt import machine
from shimopt.cli import main
from shimopt.errors import InputError, get_extra
from shimopt.job import load_job
from shimopt.tables.files import file_bytes
from shimopt.tables.replacing import replace_file

ROOT = Path(__file__).parents[1]
PACKAGE = Path(shimopt.__file__).parent
FILES = sorted(PACKAGE.rglob("*.py"))
# modules that only some systems have
ONLY_SOMEWHERE = {"fcntl", "grp", "msvcrt", "posix", "pty", "pwd", "resource", "termios", "tty", "winreg"}
# of `os` and `sys`: which system this is, and what only some of them can do
ASKED_IN_ONE_FILE = {
    *("name", "platform", "sep", "linesep", "umask", "fchmod", "chown", "fork", "kill", "killpg", "getuid", "mkfifo"),
    *("O_NONBLOCK", "O_BINARY", "O_RDONLY", "O_DIRECTORY", "symlink", "link", "setsid", "getpgid", "statvfs"),
}
# of `os.path`: what pathlib has not, or not in the same way; every other path is one of pathlib
NOT_IN_PATHLIB = {"realpath", "samefile", "abspath"}
# the file that asks, and the two that hear Ctrl-C
ONE_FILE, HEARS = "machine.py", {"machine.py", "__main__.py", "cli/stopping.py"}


@lru_cache(maxsize=1)
def nodes_of(source: str) -> tuple[ast.AST, ...]:
    """All nodes of a source, looked up once for both rules; of all files at once they would burden all that follows."""
    return tuple(ast.walk(ast.parse(source)))


def of_one_system(source: str, *, hears: bool = False) -> Iterator[str]:
    """What a source asks for that not every system has, or that differs between them."""
    for node in nodes_of(source):
        if isinstance(node, ast.Import | ast.ImportFrom):
            names = [a.name for a in node.names] if isinstance(node, ast.Import) else [node.module or ""]
            yield from (name for name in names if name.split(".")[0] in ONLY_SOMEWHERE)
            if "signal" in names and not hears:
                yield "signal"
        if (
            isinstance(node, ast.Attribute)
            and isinstance(node.value, ast.Name)
            and node.value.id in ("os", "sys")
            and node.attr in ASKED_IN_ONE_FILE
        ):
            yield f"{node.value.id}.{node.attr}"
        # to write out each node's source takes far longer than to look at it
        if (
            isinstance(node, ast.Attribute)
            and isinstance(node.value, ast.Attribute)
            and ast.unparse(node.value) == "os.path"
            and node.attr not in NOT_IN_PATHLIB
        ):
            yield f"os.path.{node.attr}"


def without_encoding(source: str) -> Iterator[str]:
    """Files opened as text without saying in which encoding: Windows would take its own."""
    for node in nodes_of(source):
        if not isinstance(node, ast.Call):
            continue
        method = isinstance(node.func, ast.Attribute)
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        reads = (name in ("read_text", "write_text", "fdopen", "TextIOWrapper") and method) or name == "open"
        if not reads:
            continue
        texts = [a.value for a in (*node.args, *(k.value for k in node.keywords)) if isinstance(a, ast.Constant)]
        binary = any(isinstance(text, str) and "b" in text and len(text) <= 3 for text in texts)
        stated = any(keyword.arg == "encoding" for keyword in node.keywords)
        owner = ast.unparse(node.func.value) if isinstance(node.func, ast.Attribute) else ""
        if owner not in ("os", "pa.ipc", "webbrowser") and not (binary or stated):
            yield ast.unparse(node)


# a file in which none of these words stands, not even in a comment, need not be parsed
TOLD_BY = re.compile(rf"\b(open|read_text|write_text|fdopen|TextIOWrapper|os|sys|signal|{'|'.join(ONLY_SOMEWHERE)})\b")


def test_only_one_file_asks_for_what_not_every_system_has() -> None:
    found: dict[str, list[str]] = {}
    for file in FILES:
        name, source = file.relative_to(PACKAGE).as_posix(), file.read_text(encoding="utf-8")
        if not TOLD_BY.search(source):
            continue
        asked = [] if name == ONE_FILE else of_one_system(source, hears=name in HEARS)
        found[name] = [*asked, *without_encoding(source)]
    assert {name: asked for name, asked in found.items() if asked} == {}


def test_what_is_forbidden_is_noticed() -> None:
    assert list(of_one_system("import fcntl")) == ["fcntl"]
    assert list(of_one_system("import os\nif os.name == 'nt': os.umask(0)")) == ["os.name", "os.umask"]
    assert list(of_one_system("import signal")) == ["signal"]
    assert list(of_one_system("os.path.join(a, b); os.path.realpath(a)")) == ["os.path.join"]
    assert list(without_encoding("open('x')\nPath('y').read_text()\nopen('z', 'rb')")) == [
        "open('x')",
        "Path('y').read_text()",
    ]


def test_without_the_modules_of_other_systems_a_job_is_planned_and_recorded(tmp_path: Path) -> None:
    job = shutil.copytree(ROOT / "demo_data" / "swing-bridge", tmp_path / "job")
    code = (
        f"import sys\nfor name in {sorted(ONLY_SOMEWHERE - {'posix'})!r}: sys.modules[name] = None\n"
        "import warnings; warnings.simplefilter('ignore')  # filelock says that it has only its second way\n"
        "from shimopt.cli import main\nmain(sys.argv[1:])"
    )
    record = ["record", str(job), "--after", "upper 1=10 thou", "--person", "M", "--instrument", "gauge"]
    for arguments in (["plan", str(job)], [*record, "--update-drawer"]):
        done = subprocess.run(
            [sys.executable, "-c", code, *arguments], cwd=ROOT, capture_output=True, text=True, check=False, timeout=60
        )
        assert (done.returncode, done.stderr) == (0, "")
    assert load_job(job).records
    assert not [name for name in os.listdir(job) if name.endswith((".lock", ".held", ".part"))]


def test_a_folder_that_cannot_be_brought_to_the_disk_is_no_hindrance(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plain = os.open

    def no_folders(path: str | Path, *how: int, **more: int) -> int:
        if os.path.isdir(path):
            raise PermissionError(errno.EACCES, "Permission denied")
        return plain(path, *how, **more)

    monkeypatch.setattr(os, "open", no_folders)
    replace_file(tmp_path / "new.txt", b"whole")
    monkeypatch.setattr(machine, "_POSIX", False)
    replace_file(tmp_path / "new.txt", b"whole again")
    assert (tmp_path / "new.txt").read_bytes() == b"whole again"


def test_a_file_that_a_spreadsheet_has_open_stays_as_it_is_and_the_remedy_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "drawer.csv"
    target.write_text("as it was", encoding="utf-8")

    def open_elsewhere(*_: object) -> None:
        raise PermissionError(errno.EACCES, "The process cannot access the file because it is being used")

    monkeypatch.setattr(os, "replace", open_elsewhere)
    with pytest.raises(InputError) as refused:
        replace_file(target, b"new", "drawer")
    assert "close it there" in str(refused.value)
    assert target.read_text(encoding="utf-8") == "as it was"
    assert os.listdir(tmp_path) == ["drawer.csv"]
    monkeypatch.setattr(os, "open", open_elsewhere)
    with pytest.raises(InputError) as refused:
        file_bytes(target, 100, "drawer")
    assert "close it there" in str(refused.value)


def test_a_path_with_backslashes_means_the_same_everywhere(tmp_path: Path) -> None:
    shutil.copytree(ROOT / "demo_data" / "quarry-tram", tmp_path / "job")
    for name in ("drawer.csv", "catalogue.csv", "gaps.csv"):
        (tmp_path / "shop").mkdir(exist_ok=True)
        (tmp_path / "job" / name).rename(tmp_path / "shop" / name)
    file = tmp_path / "job" / "job.toml"
    text = file.read_text(encoding="utf-8")
    for name in ("drawer.csv", "catalogue.csv", "gaps.csv"):
        assert f'"{name}"' in text
        text = text.replace(f'"{name}"', f"'..\\shop\\{name}'")
    file.write_text(text, encoding="utf-8")
    job = load_job(file)
    assert [Path(name).name for name in job.inputs] == ["job.toml", "drawer.csv", "catalogue.csv", "gaps.csv"]


@pytest.mark.parametrize("written", [r'"C:\Users\me\drawer.csv"', r'"..\drawer.csv"', r'"shop\table.csv"'])
def test_a_path_of_backslashes_between_double_quotes_is_told_what_to_write(tmp_path: Path, written: str) -> None:
    (tmp_path / "job.toml").write_text(
        f'unit = "mm"\ndrawer = {written}\n[window]\nmin = 0.1\nmax = 0.2\nsource = "x"\n'
        '[[gap]]\nname = "a"\nvalue = "0.15 mm"\n',
        encoding="utf-8",
    )
    with pytest.raises(InputError) as refused:
        load_job(tmp_path)
    assert "single quotes" in str(refused.value)


def test_a_reader_that_quits_is_no_error_on_windows_either(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(machine, "_POSIX", False)
    quits = OSError(errno.EINVAL, "Invalid argument")

    def gone() -> None:
        raise quits

    monkeypatch.setattr(sys.modules["shimopt.cli.main"], "silence_output", lambda: None)
    with monkeypatch.context() as while_it_runs:
        while_it_runs.setattr(sys.stdout, "flush", gone)
        with pytest.raises(SystemExit) as ended:
            main(["plan", str(ROOT / "demo_data" / "swing-bridge")])
    assert (ended.value.code, capsys.readouterr().err) == (0, "")


def test_it_is_said_who_installs_it_how_and_which_python_is_meant() -> None:
    """A shop has no programmer: one line each, and the systems for which libraries come without ready-built files."""
    readme, page = ((ROOT / name).read_text(encoding="utf-8") for name in ("README.md", "shimopt/help/install.md"))
    for words in ("pipx install", "uv tool install"):
        assert words in readme
        assert words in page
    for words in ("Windows on ARM", "Alpine", "macOS 11"):
        assert words in page
    # what an extra brings is said where it is missing, and on the page
    extras = set()
    for file in FILES:
        text = file.read_text(encoding="utf-8")
        extras |= set(re.findall(r'get_extra\("(\w+)"\)', text))
        assert "pip install" not in text or file.name == "errors.py", file
    assert extras == {"batch", "cluster", "postgres"}
    assert all(f"'.[{extra}]'" in page and f"'.[{extra}]'" in get_extra(extra) for extra in extras)
    about = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    named = [line.rpartition(" ")[2] for line in about["classifiers"] if line.startswith("Programming Language")]
    assert [version for version in named if "." in version] == ["3.11", "3.12", "3.13", "3.14"]
    assert extras < about["optional-dependencies"].keys()
    assert about["requires-python"].startswith(">=3.11")
