"""Data flows one way: a module imports only from its own layer or from those above it in the list."""

from __future__ import annotations

import ast
from collections import Counter
from collections.abc import Collection, Iterator, Mapping
from functools import cache
from pathlib import Path

import pytest

import shimopt

# the first is at the bottom and imports from nothing in the package but itself
LAYERS = (
    "errors",
    "lengths",
    "fields",
    "watch",
    "machine",
    "proof",
    "tables",
    "probability",
    "assembly",
    "readings",
    "parts",
    "stock",
    "job",
    "seats",
    "arithmetic",
    "candidates",
    "choose",
    "reasons",
    "planner",
    "ordering",
    "recording",
    "receiving",
    "learning",
    "words",
    "render",
    "door",
    "batch",
    "starting",
    "bench",
    "cli",
)
# the package's own two files, outside the layers: nothing within may lean on them
OUTSIDE = ("__init__", "__main__")

PACKAGE = Path(shimopt.__file__).parent
FILES = sorted(PACKAGE.rglob("*.py"))


def layer_of(file: Path) -> str:
    return file.relative_to(PACKAGE).parts[0].removesuffix(".py")


@cache
def _imports(source: str) -> list[ast.Import | ast.ImportFrom]:
    return [node for node in ast.walk(ast.parse(source)) if isinstance(node, (ast.Import, ast.ImportFrom))]


def imported_layers(source: str) -> Iterator[str]:
    """The layers that a module imports from, wherever in the file it does so; "" for the package itself."""
    for node in _imports(source):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are written in full, so that they can be checked"
            deep = node.module != "shimopt"
            names = [node.module or ""] if deep else [f"shimopt.{alias.name}" for alias in node.names]
        else:
            continue
        for name in names:
            if name.split(".")[0] == "shimopt" and name != "shimopt.__version__":
                yield ".".join(name.split(".")[1:2])


def too_far_down(layer: str, source: str) -> list[str]:
    allowed = LAYERS[: LAYERS.index(layer) + 1]
    return [other for other in imported_layers(source) if other not in allowed]


def test_a_module_imports_only_from_layers_above_it() -> None:
    assert {layer_of(file) for file in FILES} <= {*LAYERS, *OUTSIDE}
    inside = [file for file in FILES if layer_of(file) not in OUTSIDE]
    down = {file: too_far_down(layer_of(file), file.read_text(encoding="utf-8")) for file in inside}
    assert {file.relative_to(PACKAGE).as_posix(): layers for file, layers in down.items() if layers} == {}


@pytest.mark.parametrize(
    ("layer", "source"),
    [
        ("parts", "from shimopt.job import Job"),
        ("candidates", "def f():\n    import shimopt.choose.whole_model"),
        ("job", "from shimopt import planner"),
        ("arithmetic", "import shimopt"),
    ],
)
def test_an_import_that_points_the_wrong_way_is_noticed(layer: str, source: str) -> None:
    assert too_far_down(layer, source)


def test_only_lengths_knows_pint_and_only_the_room_of_proof_knows_a_solver() -> None:
    knowing = {
        (library, file.relative_to(PACKAGE).as_posix())
        for file in FILES
        for library in ("pint", "ortools", "highspy")
        if f"import {library}" in (text := file.read_text(encoding="utf-8")) or f"from {library}" in text
    }
    assert knowing == {("pint", "lengths.py"), ("ortools", "proof/second_solver.py"), ("highspy", "proof/highs.py")}


def test_every_file_has_a_name_of_its_own() -> None:
    names = Counter(file.name for file in FILES if file.name != "__init__.py")
    assert [name for name, count in names.items() if count > 1] == []


def test_no_file_is_longer_than_one_reads_at_a_sitting() -> None:
    lines = {file.name: len(file.read_text(encoding="utf-8").splitlines()) for file in FILES}
    assert {name: count for name, count in lines.items() if count > 350} == {}


def module_of(file: Path) -> str:
    return ".".join(("shimopt", *file.relative_to(PACKAGE).with_suffix("").parts)).removesuffix(".__init__")


def imported_modules(source: str, modules: Collection[str]) -> set[str]:
    """The modules of the package that a module names in its imports, those for the type checker alone among them."""
    found = set()
    for node in _imports(source):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            # a name of a package may be a module in it
            found |= {f"{node.module}.{alias.name}" for alias in node.names} & set(modules) or {node.module or ""}
    return found & set(modules)


def circles(imports: Mapping[str, Collection[str]]) -> list[str]:
    """Modules that import each other, straight or by way of others, and what stands between two such circles."""
    left = {name: set(named) - {name} for name, named in imports.items()}
    while True:
        asked = {name for named in left.values() for name in named}
        ends = [name for name, named in left.items() if not named & left.keys() or name not in asked]
        if not ends:
            return sorted(left)
        for name in ends:
            del left[name]


def test_no_module_imports_itself_by_way_of_others_not_even_for_its_types() -> None:
    texts = {module_of(file): file.read_text(encoding="utf-8") for file in FILES if file.stem not in OUTSIDE}
    assert circles({name: imported_modules(text, texts) for name, text in texts.items()}) == []
    packages = {module_of(file): file.read_text(encoding="utf-8") for file in FILES}
    named = {name: imported_modules(text, packages) for name, text in packages.items()}
    # a package's own file gathers what stands in it: nothing within may ask the package for it, but for the version
    within = [(name, of) for name, asked in named.items() for of in asked - {"shimopt"}]
    assert [(name, of) for name, of in within if name.startswith(f"{of}.")] == []


@pytest.mark.parametrize(
    ("imports", "found"),
    [
        ({"a": ["b"], "b": ["c"], "c": []}, []),
        ({"a": ["b"], "b": ["c"], "c": ["b"]}, ["b", "c"]),
        ({"a": ["b"], "b": ["a"], "c": []}, ["a", "b"]),
    ],
)
def test_a_circle_is_found(imports: Mapping[str, Collection[str]], found: list[str]) -> None:
    assert circles(imports) == found


def test_an_import_for_types_alone_counts() -> None:
    source = "if TYPE_CHECKING:\n    from shimopt.choose import whole_model\nfrom shimopt.job import Job"
    assert imported_modules(source, {"shimopt.choose.whole_model", "shimopt.job"}) == {
        "shimopt.choose.whole_model",
        "shimopt.job",
    }
