"""Hilum on systems that are not the one of its authors: no Linux, processes that are spawned, other drives and line ends."""

import ast
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from hilum import study as study_
from hilum.alone import Busy, held
from hilum.steps import parallel
from tests.bench import many
from tests.conftest import REPOSITORY, copy_workflow, snakemake

SPAWNING = REPOSITORY / "tests/spawning"
CODE = [*(REPOSITORY / "workflow").rglob("*.py")]


def _elsewhere() -> dict[str, str]:
    known = os.environ.get("PYTHONPATH", "")
    return {"PYTHONPATH": os.pathsep.join([str(SPAWNING), known])}


@pytest.fixture(scope="module")
def runs(tmp_path_factory):
    """Return two folders in which the same study was run: here, and as if on another system."""
    folders = []
    for name, environment in (("here", {}), ("there", _elsewhere())):
        folder = copy_workflow(tmp_path_factory.mktemp("runs") / name)
        many.study(folder / "data/bank", 3, seed=5)
        (folder / "own.yaml").write_text("study: data/bank\n", encoding="utf-8")
        done = snakemake(folder, "--configfile", "own.yaml", **environment)
        assert done.returncode == 0, done.stdout + done.stderr
        folders.append(folder / "results/bank")
    return folders


def _bytes(folder: Path) -> dict[Path, bytes]:
    files = sorted(p for p in folder.rglob("*") if p.is_file())
    return {p.relative_to(folder): p.read_bytes() for p in files}


def test_a_run_whose_processes_are_spawned_and_that_has_nothing_of_linux(runs):
    here, there = runs
    for name in ("checked", "estimates", "charts", "pages", "manifests"):
        assert _bytes(here / name) == _bytes(there / name), name
    assert len(list((there / "estimates").glob("*/*.csv"))) > 3


def test_that_other_system_has_nothing_of_linux():
    """A run as if elsewhere proves nothing where it is not."""
    tell = (
        "import multiprocessing, os; print(hasattr(os, 'sched_getaffinity'), multiprocessing.get_start_method())\n"
        "import fcntl"
    )
    command = [sys.executable, "-c", tell]
    done = subprocess.run(command, capture_output=True, text=True, env=os.environ | _elsewhere())
    assert done.stdout.split() == ["False", "spawn"]
    assert "ModuleNotFoundError: import of fcntl halted" in done.stderr


def _writes(path: Path) -> Iterator[ast.Call]:
    """Yield where the code writes a text."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            words = {w.value for w in node.args if isinstance(w, ast.Constant)}
            if node.func.attr == "write_text" or (node.func.attr == "open" and words & {"w", "a"}):
                yield node


def test_files_have_the_same_letters_and_line_ends_on_every_system():
    """Windows would write CR LF, and hashes would differ."""
    calls = [node for path in CODE for node in _writes(path)]
    assert len(calls) > 20
    for node in calls:
        assert {"encoding", "newline"} <= {w.arg for w in node.keywords}, ast.unparse(node)


def test_a_study_on_another_drive_is_named_whole(monkeypatch):
    """Between two drives of Windows there is no relative path."""
    assert study_.seen_from(Path("/a/b"), Path("/a/c")) == str(Path("../c"))

    def no_way(*_):
        raise ValueError("path is on mount 'D:', start on mount 'C:'")

    monkeypatch.setattr("os.path.relpath", no_way)
    assert study_.seen_from(Path("here"), Path("there")) == "there"


def test_cores_are_counted_where_the_system_does_not_say_which_may_be_used(monkeypatch):
    monkeypatch.delattr("os.sched_getaffinity", raising=False)
    for counted, used in ((3, 3), (None, 1), (128, 61)):
        monkeypatch.setattr("os.cpu_count", lambda counted=counted: counted)
        assert parallel.cores() == used


def test_a_lock_is_shared_by_those_who_share_it(tmp_path):
    path = tmp_path / "results" / ".lock"
    with held(path), pytest.raises(Busy, match="wait for its end"), held(path, shared=True):
        pass
    with held(path, shared=True), held(path, shared=True), pytest.raises(Busy), held(path):
        pass
    with held(path):
        assert [(p.name, p.stat().st_size) for p in path.parent.iterdir()] == [(".lock", 0)]


def test_a_command_waits_for_another_with_its_lock_and_has_its_own_status(tmp_path):
    lock = str(tmp_path / "lock")
    command = [sys.executable, "-m", "hilum.alone", lock, "sh", "-c"]
    first = subprocess.Popen([*command, f"touch {tmp_path}/begun; sleep 2; touch {tmp_path}/done"])
    _wait((tmp_path / "begun").exists)
    second = subprocess.run(
        [*command, f"test -e {tmp_path}/done && exit 3"], capture_output=True, text=True
    )
    assert second.returncode == 3
    assert "this one waits for its end" in second.stdout
    assert first.wait() == 0
    # it is used before there is any package
    bare = [sys.executable, "-S", "-c", "import hilum.alone"]
    path = {"PYTHONPATH": str(REPOSITORY / "workflow")}
    assert subprocess.run(bare, env=os.environ | path).returncode == 0


def test_a_lock_and_the_processes_of_a_pool_die_with_the_process_that_was_killed(tmp_path):
    """Processes of a pool lived on, kept the lock, and no other run could ever begin."""
    code = (
        "import os, sys, time; from pathlib import Path; from hilum.alone import held; from hilum.steps import parallel\n"
        "def work(folder): (folder / str(os.getpid())).touch(); time.sleep(60)\n"
        "if __name__ == '__main__':\n"
        "    folder = Path(sys.argv[1])\n"
        "    with held(folder / 'lock'): parallel.each([parallel.job(work, folder / 'pool')] * 2, apart=True)\n"
    )
    program, pool = tmp_path / "program.py", tmp_path / "pool"
    program.write_text(code, encoding="utf-8")
    pool.mkdir()
    process = subprocess.Popen([sys.executable, str(program), str(tmp_path)])
    _wait(lambda: any(pool.iterdir()))
    with pytest.raises(Busy), held(tmp_path / "lock"):
        pass
    process.send_signal(signal.SIGKILL)
    process.wait()
    _wait(lambda: not any(_lives(int(p.name)) for p in pool.iterdir()))
    with held(tmp_path / "lock"):
        pass


def _wait(until):
    end = time.monotonic() + 30
    while not until():
        assert time.monotonic() < end
        time.sleep(0.05)


def _lives(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    # one that has ended may wait for its end to be noticed by a parent that is gone
    told = subprocess.run(["ps", "-o", "stat=", "-p", str(process)], capture_output=True, text=True)
    return told.stdout.strip()[:1] not in ("", "Z")
