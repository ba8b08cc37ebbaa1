"""State that can be seen: what a function takes, what an object holds, and who may change it.

Each rule may be broken where a comment beside it gives the reason.
"""

from __future__ import annotations

import ast
import io
import re
import tokenize
from collections.abc import Callable, Iterable, Iterator
from functools import cache, lru_cache
from pathlib import Path

import pytest

import shimopt

PACKAGE = Path(shimopt.__file__).parent
FILES = sorted(PACKAGE.rglob("*.py"))
MOST_PARAMETERS = 6
MOST_FIELDS = 8
Function = ast.FunctionDef | ast.AsyncFunctionDef
# first and last line of what breaks a rule, and in what words
Broken = Iterator[tuple[int, int, str]]


# the nodes of one file: those of all at once would burden all that follows
@lru_cache(maxsize=200)
def every(tree: ast.AST) -> tuple[ast.AST, ...]:
    """All nodes of a tree, looked up once for all rules."""
    return tuple(ast.walk(tree))


def functions(tree: ast.AST) -> Iterator[Function]:
    return (node for node in every(tree) if isinstance(node, Function))


def first_line(node: Function | ast.ClassDef) -> int:
    return min([node.lineno, *(one.lineno for one in node.decorator_list)])


def last_line(function: Function) -> int:
    """Where what it takes and gives ends."""
    heads = [node.lineno for node in ast.walk(function.args) if hasattr(node, "lineno")]
    return max([function.lineno, *heads, *([function.returns.lineno] if function.returns else [])])


def parameters(function: Function) -> list[str]:
    taken = function.args
    names = [one.arg for one in (*taken.posonlyargs, *taken.args, *taken.kwonlyargs)]
    return names[1:] if names[:1] in (["self"], ["cls"]) else names


def many_parameters(tree: ast.AST) -> Broken:
    for one in functions(tree):
        if len(parameters(one)) > MOST_PARAMETERS:
            yield first_line(one), last_line(one), f"{one.name} takes {len(parameters(one))} parameters"


def positional_fields(made: ast.ClassDef) -> int:
    """Fields of a dataclass or a named tuple that its constructor takes by their place."""
    said = [ast.unparse(one) for one in made.decorator_list]
    as_tuple = any(ast.unparse(base).endswith("NamedTuple") for base in made.bases)
    if not as_tuple and not any("dataclass" in one and "kw_only=True" not in one for one in said):
        return 0
    count = 0
    for one in made.body:
        if not isinstance(one, ast.AnnAssign) or ast.unparse(one.annotation).startswith("ClassVar"):
            continue
        if ast.unparse(one.annotation).endswith("KW_ONLY"):
            break
        value = "" if one.value is None else ast.unparse(one.value)
        count += not ("init=False" in value or "kw_only=True" in value)
    return count


def many_fields(tree: ast.AST) -> Broken:
    for one in every(tree):
        if isinstance(one, ast.ClassDef) and (count := positional_fields(one)) > MOST_FIELDS:
            yield first_line(one), one.lineno, f"{one.name} is made of {count} fields by their place"


def bare_asserts(tree: ast.AST) -> Broken:
    for one in every(tree):
        if isinstance(one, ast.Assert):
            yield one.lineno, one.lineno, f"asserts {ast.unparse(one.test)}"


def hidden_dicts(tree: ast.AST) -> Broken:
    for one in every(tree):
        if isinstance(one, ast.Attribute) and one.attr == "__dict__":
            yield one.lineno, one.lineno, "reaches into __dict__"
        if isinstance(one, ast.Call) and isinstance(one.func, ast.Attribute | ast.Name):
            # what is compared is short: to write out every call takes as long as all else
            short = getattr(one.func, "id", "") or f"{getattr(one.func.value, 'id', '')}.{one.func.attr}"
            if short in ("object.__setattr__", "setattr", "vars"):
                yield one.lineno, one.lineno, f"reaches into an object by {short}"


def written(statement: ast.AST) -> Iterator[ast.Attribute]:
    """The fields that a statement writes."""
    targets: list[ast.expr] = []
    if isinstance(statement, ast.Assign):
        targets = statement.targets
    elif isinstance(statement, ast.AugAssign | ast.AnnAssign):
        targets = [statement.target]
    for target in targets:
        for one in target.elts if isinstance(target, ast.Tuple) else [target]:
            if isinstance(one, ast.Attribute):
                yield one


def root(of: ast.expr) -> str:
    """The name that a chain of fields and items begins with."""
    while isinstance(of, ast.Attribute | ast.Subscript):
        of = of.value
    return ast.unparse(of)


def made_in(statements: Iterable[ast.AST]) -> set[str]:
    """Names to which statements give something that they have just made by a call."""
    found = set()
    for one in statements:
        if isinstance(one, ast.Assign | ast.AnnAssign) and isinstance(one.value, ast.Call):
            targets = one.targets if isinstance(one, ast.Assign) else [one.target]
            found |= {target.id for target in targets if isinstance(target, ast.Name)}
    return found


def written_into_others(tree: ast.AST) -> Broken:
    """Fields written by whoever is neither their object nor its maker."""
    of_module = made_in(ast.iter_child_nodes(tree))
    for function in functions(tree):
        made = of_module | made_in(every(function))
        for statement in every(function):
            for field in written(statement):
                if ast.unparse(field.value) not in ("self", "cls") and root(field) not in made:
                    yield field.lineno, field.lineno, f"{function.name} writes {ast.unparse(field)}"


RULES: dict[str, Callable[[ast.AST], Broken]] = {
    "many parameters": many_parameters,
    "many fields": many_fields,
    "bare asserts": bare_asserts,
    "hidden dicts": hidden_dicts,
    "written into others": written_into_others,
}


@lru_cache(maxsize=1)
def parsed(source: str) -> ast.Module:
    """A source's tree, the same for every rule."""
    return ast.parse(source)


@cache
def commented(source: str) -> set[int]:
    """The lines with a comment that says something to a reader."""
    return {
        token.start[0]
        for token in tokenize.generate_tokens(io.StringIO(source).readline)
        if token.type == tokenize.COMMENT and not token.string.startswith(("# type:", "# noqa"))
    }


def without_reason(source: str, rule: Callable[[ast.AST], Broken]) -> list[str]:
    """What breaks a rule without a comment on its lines or on the one before."""
    lines = source.splitlines()

    def told(first: int, last: int) -> bool:
        comments = commented(source)
        above = first - 1 in comments and lines[first - 2].lstrip().startswith("#")
        return above or any(line in comments for line in range(first, last + 1))

    return [f"line {first}: {words}" for first, last, words in rule(parsed(source)) if not told(first, last)]


def test_what_hides_state_gives_its_reason() -> None:
    """All rules at once: each file is read and parsed for all of them."""
    found = [
        f"{rule}: {file.relative_to(PACKAGE).as_posix()} {broken}"
        for file in FILES
        for source in [file.read_text(encoding="utf-8")]
        for rule in RULES
        for broken in without_reason(source, RULES[rule])
    ]
    assert found == []


def test_the_formatter_has_the_last_word() -> None:
    off = ("fmt: skip", "fmt: off")
    assert [file for file in FILES if any(word in file.read_text(encoding="utf-8") for word in off)] == []


def passed_over(source: str) -> list[str]:
    """Lines that tell lint or types to look away and do not say why, there or on the line above."""
    lines = source.splitlines()
    silent = [
        n for n, line in enumerate(lines) if re.search(r"#\s*(noqa|type: ignore)(: ?[A-Z0-9]+|\[[a-z-]+\])?$", line)
    ]
    return [lines[n].strip() for n in silent if not lines[n - 1].lstrip().startswith("# ")]


def test_what_lint_and_types_pass_over_gives_its_reason() -> None:
    assert [line for file in FILES for line in passed_over(file.read_text(encoding="utf-8"))] == []
    assert passed_over("a = 1\nb = c()  # type: ignore[misc]\nimport d  # noqa: F401") != []
    assert (
        passed_over("# the stubs leave it out\nb = c()  # type: ignore[misc]\nimport d  # noqa: F401 (asked for)") == []
    )


@pytest.mark.parametrize(
    ("rule", "source"),
    [
        ("many parameters", "def f(a, b, c, d, e, f, g): ..."),
        ("many parameters", "class A:\n    def f(self, a, b, c, d, e, f, *, g): ..."),
        ("many fields", "@dataclass(frozen=True)\nclass A:\n" + "".join(f"    a{n}: int\n" for n in range(9))),
        ("many fields", "class A(NamedTuple):\n" + "".join(f"    a{n}: int\n" for n in range(9))),
        ("bare asserts", "assert isinstance(a, int)"),
        ("hidden dicts", "a.__dict__['b'] = 1"),
        ("hidden dicts", "object.__setattr__(a, 'b', 1)"),
        ("written into others", "def f(a):\n    a.b = 1"),
        ("written into others", "def f(a):\n    a.b, c = 1, 2"),
        ("written into others", "def f(self):\n    self.a.b += 1"),
        ("written into others", "def f():\n    STATE.b = 1"),
    ],
)
def test_what_breaks_a_rule_is_noticed(rule: str, source: str) -> None:
    assert without_reason(source, RULES[rule])


@pytest.mark.parametrize(
    ("rule", "source"),
    [
        ("many parameters", "def f(  # all of them belong to the sum\n    a, b, c, d, e, f, g\n): ..."),
        ("many parameters", "# all of them belong to the sum\ndef f(a, b, c, d, e, f, g): ..."),
        ("many fields", "# a row of the table\nclass A(NamedTuple):\n" + "".join(f"    a{n}: int\n" for n in range(9))),
        ("bare asserts", "assert a  # proven above"),
        ("hidden dicts", "# the only moment\nobject.__setattr__(a, 'b', 1)"),
        ("written into others", "def f(a):\n    a.b = 1  # the library asks for it"),
    ],
)
def test_a_reason_beside_it_is_heard(rule: str, source: str) -> None:
    assert without_reason(source, RULES[rule]) == []


def test_a_reason_of_something_else_is_none() -> None:
    assert without_reason("x = 1  # why\ndef f(a):\n    a.b = 1\n# later", RULES["written into others"])
    assert without_reason("def f(a, b, c, d, e, f, g):\n    # here\n    return a", RULES["many parameters"])


@pytest.mark.parametrize(
    ("rule", "source"),
    [
        ("many parameters", "class A:\n    def f(self, a, b, c, d, e, f): ..."),
        ("many fields", "@dataclass(kw_only=True)\nclass A:\n" + "".join(f"    a{n}: int\n" for n in range(9))),
        ("many fields", "@dataclass\nclass A:\n    a: int\n    _: KW_ONLY\n" + "    b: int\n" * 9),
        ("written into others", "def f(self):\n    self.a = 1"),
        ("written into others", "def f():\n    a = A()\n    a.b = 1"),
        ("written into others", "def f():\n    a = A()\n    a.b[0].c = 1"),
        ("written into others", "_state = A()\ndef f():\n    _state.b = 1"),
    ],
)
def test_what_keeps_a_rule_passes(rule: str, source: str) -> None:
    assert without_reason(source, RULES[rule]) == []
