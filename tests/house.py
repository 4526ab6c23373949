"""Print the figures of the house: lines of each room, loose types, computing templates, the longest functions.

`python -m tests.house` (what `make house` runs). With `--mutants 60 --seed 1` it damages the mathematics as often, a copy at a time, runs the
test files that import the damaged file, and prints how many damages none of them saw; a minute or two for each ten.
"""

from __future__ import annotations

import argparse
import ast
import random
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

REPOSITORY = Path(__file__).parent.parent
PACKAGE = REPOSITORY / "workflow" / "hilum"
# what house rules aim at, beside what is
MOST_LINES, DRAWN, PLANNED = 36_000, 3_000, 4_500
_SWAPS: dict[type, type] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.And: ast.Or,
    ast.Or: ast.And,
}


def lines(*patterns: str) -> int:
    """Return the lines of Python in the files of the package that match."""
    files = {p for pattern in patterns for p in PACKAGE.glob(pattern)}
    return sum(len(p.read_text(encoding="utf-8").splitlines()) for p in files)


def loose() -> dict[str, int]:
    """Return how often `Any` stands in each file between a model and its page."""
    rooms = ("analyses/*/*.py", "diagnosis/*.py", "report/*.py", "seeds/*.py")
    files = sorted(p for room in rooms for p in PACKAGE.glob(room))
    counts = {p: len(re.findall(r"\bAny\b", p.read_text(encoding="utf-8"))) for p in files}
    return {p.relative_to(PACKAGE).as_posix(): n for p, n in counts.items() if n}


def computing() -> dict[str, int]:
    """Return how often each template keeps a list or a sum of its own."""
    files = [*PACKAGE.glob("analyses/*/*.jinja"), *REPOSITORY.glob("site/templates/*.jinja")]
    counts = {p: p.read_text(encoding="utf-8").count("set _ =") for p in sorted(files)}
    return {p.relative_to(REPOSITORY).as_posix(): n for p, n in counts.items() if n}


def functions() -> list[tuple[int, str]]:
    """Return each function of the package by the lines of its body, the longest first."""
    found = []
    for path in PACKAGE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef):
                body = [n for n in node.body if not _is_docstring(n)]
                length = (body[-1].end_lineno or 0) - body[0].lineno + 1 if body else 0
                place = f"{path.relative_to(PACKAGE).as_posix()}:{node.lineno} {node.name}"
                found.append((length, place))
    return sorted(found, reverse=True)


def _is_docstring(node: ast.stmt) -> bool:
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)


# damages


def mutants(path: Path) -> Iterator[tuple[int, str, str]]:
    """Yield each damage of a file: its line, what was changed, and the whole text with it."""
    text = path.read_text(encoding="utf-8")
    count = sum(1 for node in ast.walk(ast.parse(text)) if _place(node))
    for number in range(count):
        tree = ast.parse(text)
        node = [n for n in ast.walk(tree) if _place(n)][number]
        says = _damage(node)
        yield node.lineno, says, ast.unparse(tree)


def _place(node: ast.AST) -> bool:
    if isinstance(node, (ast.BinOp, ast.BoolOp)):
        return type(node.op) in _SWAPS
    if isinstance(node, ast.Compare):
        return type(node.ops[0]) in _SWAPS
    number = isinstance(node, ast.Constant) and type(node.value) in (int, float)
    return number and node.value not in (0, 1, -1)


def _damage(node: ast.AST) -> str:
    before = ast.unparse(node)
    if isinstance(node, (ast.BinOp, ast.BoolOp)):
        node.op = _SWAPS[type(node.op)]()
    elif isinstance(node, ast.Compare):
        node.ops[0] = _SWAPS[type(node.ops[0])]()
    elif isinstance(node, ast.Constant):
        node.value = node.value * 2
    return f"{before} → {ast.unparse(node)}"


def nearest(module: str) -> list[str]:
    """Return the test files that import a module, by its own name or by its folder's."""
    stem, folder = module.rsplit(".", 1)[-1], module.rsplit(".", 2)[-2]
    words = re.compile(
        rf"\b({stem}|{folder})\b" if folder not in ("stats", "analyses") else rf"\b{stem}\b"
    )
    files = sorted((REPOSITORY / "tests").glob("test_*.py"))
    texts = {p: _imports(p.read_text(encoding="utf-8")) for p in files}
    return [str(p.relative_to(REPOSITORY)) for p in files if words.search(texts[p])]


def _imports(text: str) -> str:
    return "\n".join(re.findall(r"^(?:from|import) [^\n(]*(?:\([^)]*\))?", text, re.MULTILINE))


def survivors(number: int, seed: int) -> list[str]:
    """Return in words each of so many damages that the nearest tests did not see."""
    draw = random.Random(seed)  # noqa: S311 (no secret)
    rooms = ("stats/*.py", "analyses/*.py", "analyses/*/*.py")
    files = [p for room in rooms for p in sorted(PACKAGE.glob(room)) if "chart" not in p.name]
    pool = [(path, *one) for path in files for one in mutants(path)]
    lived = []
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "house"
        skip = shutil.ignore_patterns(".venv", "results", ".git", "__pycache__", ".*_cache")
        shutil.copytree(REPOSITORY, copy, ignore=skip)
        for path, line, says, text in draw.sample(pool, number):
            place = path.relative_to(REPOSITORY)
            module = ".".join(place.with_suffix("").parts[1:])
            (copy / place).write_text(text, encoding="utf-8")
            if not _seen(copy, nearest(module)):
                lived.append(f"{place.as_posix()}:{line} {says}")
                print(f"  lived: {lived[-1]}", flush=True)
            shutil.copyfile(path, copy / place)
    return lived


def _seen(copy: Path, tests: list[str]) -> bool:
    """Return whether any of these tests fails on the damaged copy."""
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-n", "2", *tests]
    environment = {"PYTHONPATH": f"{copy / 'workflow'}:{copy}", "PATH": "/usr/bin:/bin"}
    done = subprocess.run(command, cwd=copy, capture_output=True, env=environment)
    return bool(tests) and done.returncode == 1


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(prog="python -m tests.house", description=__doc__)
    parser.add_argument("--mutants", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    words = parser.parse_args()
    for room in sorted(p.name for p in PACKAGE.iterdir() if p.is_dir() and p.name[0] != "_"):
        print(f"{room:12} {lines(f'{room}/**/*.py'):6,} lines")
    print(f"{'all':12} {lines('**/*.py'):6,} lines, wanted {MOST_LINES:,}")
    print(
        f"charts and views {lines('**/*chart*.py', '**/view.py', '**/drawn.py'):,}, wanted {DRAWN:,}"
    )
    print(
        f"plan, its pages and steps {lines('plan/**/*.py', 'report/planned*.py', 'steps/plan.py'):,}, wanted {PLANNED:,}"
    )
    for title, found in (
        ("Any between model and page", loose()),
        ("set _ = in templates", computing()),
    ):
        print(f"{title}: {sum(found.values())}, wanted 0")
        for place, number in sorted(found.items(), key=lambda pair: -pair[1])[:12]:
            print(f"  {number:4} {place}")
    ranked = functions()
    print(f"functions: {len(ranked):,}; longest")
    for length, place in ranked[:5]:
        print(f"  {length:4} {place}")
    if words.mutants:
        lived = survivors(words.mutants, words.seed)
        share = len(lived) / words.mutants
        print(
            f"damages that the nearest tests did not see: {len(lived)} of {words.mutants} ({share:.0%}), wanted 10 %"
        )


if __name__ == "__main__":
    main()
