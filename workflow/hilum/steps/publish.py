"""Step publish: pages and charts → the site, which opens from a disk without any network.

Everything is built in fresh folders, and the site is swapped in at the end: a failed build leaves the
last good site as it was.
"""

from __future__ import annotations

import html
import shutil
from collections.abc import Container, Iterable, Mapping
from pathlib import Path, PurePosixPath
from tempfile import TemporaryDirectory
from typing import Any

from mkdocs.commands.build import build
from mkdocs.config import load_config

from hilum import freshness, lock, manifest
from hilum.settings import Settings
from hilum.steps import aside, search
from hilum.study import CALIBRATION, SITE, Study

# a page for a server, an index for search engines, and maps for developers: none is for a disk
DROPPED = ("404.html", "sitemap.xml*", "**/*.map")
# more than this and the list at the side is no help: experiments are then reached from home and by search
LISTED = 30
READING = (
    "start.md",
    "glossary.md",
    "dictionary.md",
    "methods.md",
    "calibration.md",
    "cautions.md",
)
ORIGIN = ("settings.md", "provenance.md")


def run(study: Study, settings: Settings) -> None:  # noqa: ARG001
    """Build the site of the study, swap it in, and write the manifest."""
    # a run that was killed could not tidy up
    for leftover in study.results.glob(".docs.*"):
        manifest.remove(leftover)
    with manifest.replaced(study.site) as fresh:
        with TemporaryDirectory(dir=study.results, prefix=".docs.") as sources:
            _gather(study, Path(sources))
            tables = aside.take(Path(sources))
            _build(study, Path(sources), fresh)
            aside.put_back(fresh, tables)
            search.shorten(
                fresh, [r for r in aside.ROOMS if len(_pages(Path(sources), r)) > LISTED]
            )
        _add_downloads(study, fresh)
    manifest.write(study.manifest("publish"), [study.site])


def _gather(study: Study, sources: Path) -> None:
    shutil.copytree(study.pages, sources, dirs_exist_ok=True)
    assets(sources)


def assets(sources: Path) -> None:
    """Put what pages look like beside them."""
    ignored = shutil.ignore_patterns("*.md")
    shutil.copytree(SITE / "assets", sources / "assets", ignore=ignored)


def _build(study: Study, sources: Path, site: Path) -> None:
    experiments, lots = (_pages(sources, room) for room in aside.ROOMS)
    navigation = _navigation(lots, experiments, (sources / "seeds.md").exists())
    built(sources, site, name=study.name, navigation=navigation)


def _pages(sources: Path, room: str) -> list[str]:
    return sorted(f"{room}/{p.name}" for p in (sources / room).glob("*.md"))


def built(sources: Path, site: Path, *, name: str, navigation: Mapping[str, Any]) -> None:
    """Build a site from pages, under a name and with a navigation, without what only a server needs."""
    config = load_config(
        str(SITE / "mkdocs.yml"),
        docs_dir=str(sources.resolve()),
        site_dir=str(site.resolve()),
        site_name=html.escape(name),
        copyright=f"Built with Hilum {lock.own()}",
        **navigation,
    )
    config.plugins.on_startup(command="build", dirty=False)
    build(config)
    config.plugins.on_shutdown()
    _drop(site)


def _navigation(lots: list[str], experiments: list[str], has_seeds: bool) -> dict[str, Any]:
    rooms = {"Lots": lots, "Experiments": experiments}
    listed = [{title: pages} for title, pages in rooms.items() if 0 < len(pages) <= LISTED]
    left = [page for pages in rooms.values() if len(pages) > LISTED for page in pages[:1]]
    single = [{"Seeds": "seeds.md"}] if has_seeds else []
    nav = [
        {"Home": "index.md"},
        *listed,
        *single,
        {"Reading": list(READING)},
        {"Origin": list(ORIGIN)},
    ]
    return {"nav": nav, "not_in_nav": "\n".join(f"{page.split('/')[0]}/*" for page in left)}


def _copy(files: Iterable[Path], folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for file in files:
        shutil.copyfile(file, folder / file.name)


def _add_downloads(study: Study, site: Path) -> None:
    shutil.copytree(study.charts, site / "charts", ignore=shutil.ignore_patterns("key", "*.key"))
    experiments = [p.stem for p in (study.pages / "experiments").glob("*.md")]
    for experiment in experiments:
        folder = site / "data" / experiment
        _copy((study.checked / experiment).glob("*.csv"), folder / "checked")
        _copy((study.estimates / experiment).glob("*.csv"), folder / "estimates")
    of_lots = (path.with_suffix(".csv") for path in (study.diagnosis, study.lot_sheet))
    _copy(of_lots, site / "data")
    freshness.copied(study, _raw(study, site / "data", {"", *experiments}))
    _copy(CALIBRATION.iterdir(), site / "calibration")


def _raw(study: Study, data: Path, folders: Container[str]) -> dict[str, Path]:
    """Return where each raw file of some folders lies among the downloads: an experiment's beside what was made of it."""
    names = map(PurePosixPath, freshness.raw(study))
    return {
        str(name): data / name.parent / ("raw" if name.parent.name else "") / name.name
        for name in names
        if name.parent.name in folders
    }


def _drop(site: Path) -> None:
    for pattern in DROPPED:
        for file in site.glob(pattern):
            file.unlink()
