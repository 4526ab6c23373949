"""A study of 10, 100 and 1,000 experiments from raw tables to the site: `python -m tests.bench.scale 10 100`."""

import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from tests.bench import many, search, watched, workflow

SIZES = (10, 100, 1000)
_MEGABYTE = 1e6


def run(sizes: Sequence[int] = SIZES) -> None:
    """Print what each size takes, how large its site and its pages are, and how soon a search over it answers."""
    snakemake = [str(Path(sys.executable).with_name("snakemake")), "--cores", "all"]
    print(
        f"of a search {search.WANTED_S:g} s at most are wanted, on a machine that does nothing else; it decides nothing\n"
        "experiments   CPU s   clock s   MB at once   CPU s each   site MB   home kB   largest page kB   provenance kB   search s"
    )
    for size in sizes:
        with tempfile.TemporaryDirectory() as name:
            folder = workflow.copied(Path(name))
            many.study(folder / "data/many", size, seed=1)
            (folder / "config/many.yaml").write_text("study: ../data/many\n", encoding="utf-8")
            took = watched.run([*snakemake, "--configfile", "config/many.yaml"], folder=folder)
            site = folder / "results/many/site"
            print(
                f"{size:11d} {took.cpu:7.1f} {took.clock:9.1f} {took.megabytes:12.0f} {took.cpu / size:12.2f}"
                f" {_bytes(site) / _MEGABYTE:9.1f} {(site / 'index.html').stat().st_size / 1e3:9.1f}"
                f" {max(p.stat().st_size for p in site.rglob('*.html')) / 1e3:17.1f}"
                f" {(site / 'provenance.html').stat().st_size / 1e3:15.1f} {search.seconds(site):10.2f}",
                flush=True,
            )


def _bytes(folder: Path) -> int:
    return sum(p.stat().st_size for p in folder.rglob("*") if p.is_file())


if __name__ == "__main__":
    run([int(word) for word in sys.argv[1:]] or SIZES)
