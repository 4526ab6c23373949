"""What several test files share: a copy of the workflow, and the demo built once."""

from __future__ import annotations

import fcntl
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

REPOSITORY = Path(__file__).parent.parent
NEEDED = ("workflow", "site", "config", "data", "profiles", "Snakefile", "CITATION.cff")


def copy_workflow(folder: Path) -> Path:
    """Return `folder` holding what a user's checkout holds, without results."""
    folder.mkdir(parents=True, exist_ok=True)
    skip = shutil.ignore_patterns("__pycache__", "*.egg-info")
    for name in NEEDED:
        source = REPOSITORY / name
        if source.is_dir():
            shutil.copytree(source, folder / name, ignore=skip)
        else:
            shutil.copy(source, folder / name)
    return folder


def snakemake(folder: Path, *words: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run the command that `make site` runs, in `folder`, and return what it said."""
    command = [str(Path(sys.executable).with_name("snakemake")), "--cores", "2", *words]
    return subprocess.run(
        command, cwd=folder, capture_output=True, text=True, env=os.environ | environment
    )


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder in which the demo was built once for all test processes; do not write there."""
    shared = tmp_path_factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        shared = shared.parent
    folder = shared / "demo built once"
    with (shared / "demo.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not (folder / "results/strandline/manifests/publish.json").exists():
            shutil.rmtree(folder, ignore_errors=True)
            done = snakemake(copy_workflow(folder))
            assert done.returncode == 0, done.stdout + done.stderr
    return folder


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave the browser tests out, aloud, where there is no browser; CI always runs them."""
    if shutil.which("chromium") or os.environ.get("CI"):
        return
    browser = [item for item in items if item.get_closest_marker("browser")]
    items[:] = [item for item in items if item not in browser]
    config.hook.pytest_deselected(items=browser)
    config.stash[LEFT_OUT] = len(browser)


LEFT_OUT = pytest.StashKey[int]()


def pytest_report_collectionfinish(config: pytest.Config) -> str:
    """Say how many tests were left out for want of a browser."""
    left_out = config.stash.get(LEFT_OUT, 0)
    return f"no chromium found: {left_out} browser tests are left out" if left_out else ""
