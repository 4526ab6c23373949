"""Which stages stand: what one was made from is compared by contents, never by the dates of files.

A backup, an unzipped folder or a wrong clock gives a changed table an old date, or one that is still to come. So the check
keeps the hash of each raw file as it was read, and each stage beside its manifest one hash of all that it was made from (its
key): the manifests before it, and the code, settings and commit that its rule names.
"""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from hilum import manifest
from hilum.alone import alone
from hilum.study import BEFORE, Study


class Saved(Exception):
    """Say that a raw file was saved while a run worked."""


def key(study: Study, stage: str, made_by: str) -> str:
    """Return the hash of all that a stage, or a part of it, is made from; `made_by` is that of its code and settings."""
    before = [study.manifest(one) for one in BEFORE[stage.partition("-")[0]]]
    return manifest.digest([path for path in before if path.exists()], made_by)


def settle(study: Study, made_by: Mapping[str, str]) -> None:
    """Take the manifest of each stage away that does not stand; the others get dates in their order.

    `made_by` names the stages in this order. A stage without its manifest is one to be run. Raises Busy.
    """
    if not study.results.exists():
        return
    with alone(study):
        for stage, code in made_by.items():
            if _stands(study, stage, code):
                # Snakemake goes by dates, and a copied folder has them in any order
                os.utime(study.manifest(stage))
                if study.benchmark(stage).exists():
                    os.utime(study.benchmark(stage))
            else:
                study.manifest(stage).unlink(missing_ok=True)


def _stands(study: Study, stage: str, made_by: str) -> bool:
    if not study.manifest(stage).exists():
        return False
    if stage == "check" and raw(study) != manifest.hashes(study.raw, study.raw_files()):
        return False
    kept = study.key(stage)
    return kept.exists() and kept.read_text(encoding="utf-8") == key(study, stage, made_by)


def raw(study: Study) -> dict[str, str]:
    """Return the hash of each raw file as the check read it, by its name in the study."""
    path = study.manifest("raw")
    return dict(json.loads(path.read_text(encoding="utf-8"))) if path.exists() else {}


def copied(study: Study, places: Mapping[str, Path]) -> None:
    """Copy raw files to their places, by their names, as the check read them. Raises Saved where one is another by now."""
    read = raw(study)
    for name, place in places.items():
        place.parent.mkdir(parents=True, exist_ok=True)
        with suppress(FileNotFoundError):
            shutil.copyfile(study.raw / name, place)
        if not place.exists() or manifest.sha256(place) != read[name]:
            says = "was saved while this run worked; run again, and it is read anew."
            raise Saved(f"{study.raw / name}: {says}")
