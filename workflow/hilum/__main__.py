"""The door: `python -m hilum <rule>` runs one step; everything behind it takes plain paths."""

from __future__ import annotations

import argparse
import importlib
import os
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NoReturn

# more threads add numbers in another order, and the published bytes must not depend on that
os.environ["OMP_NUM_THREADS"] = "1"
os.environ["OPENBLAS_NUM_THREADS"] = "1"

from hilum import freshness, machine, manifest, visible
from hilum import settings as settings_
from hilum.alone import Busy, alone
from hilum.freshness import Saved
from hilum.study import RULES, Study
from hilum.tables.sentences import Faults


def _arguments(words: list[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m hilum", description=__doc__)
    parser.add_argument("rule", choices=RULES)
    given = parser.add_mutually_exclusive_group(required=True)
    given.add_argument("--config", type=Path, help="the config file")
    given.add_argument("--settings", help="the settings themselves, as JSON")
    parser.add_argument("--results", type=Path, required=True, help="the study's results folder")
    parser.add_argument("--made-by", default="", help="the hash of the rule's code and settings")
    parser.add_argument("--part", type=int, help="only this part of the setting `parts`, from 1")
    chosen = parser.parse_args(words)
    if chosen.part is not None and chosen.rule not in ("fit", "report"):
        parser.error(f"{chosen.rule} is not done in parts")
    return chosen


def _settings(arguments: argparse.Namespace) -> settings_.Settings:
    if arguments.config:
        return settings_.load(arguments.config)
    return settings_.told(arguments.settings)


def _refuse_beyond(part: int, parts: int) -> None:
    if not 1 <= part <= parts:
        raise settings_.SettingsFault(f"--part {part}: the setting `parts` is {parts}.")


def main(words: list[str]) -> int:
    """Run one step and return its exit status; what a person can repair is told without a traceback."""
    arguments = _arguments(words)
    try:
        chosen = _settings(arguments)
        study = Study(raw=chosen.study, results=arguments.results)
        step = importlib.import_module(f"hilum.steps.{arguments.rule}")
        with (
            machine.lent(study.results),
            alone(study, arguments.part),
            _noted(study, arguments),
        ):
            if arguments.part:
                _refuse_beyond(arguments.part, chosen.parts)
                step.part(study, chosen, arguments.part)
                return 0
            step.run(study, chosen)
    except (settings_.SettingsFault, Busy, Faults, Saved, machine.Lack) as fault:
        print(visible.told(str(fault)), file=sys.stderr)
        return 1
    said = _told(arguments.rule, study)
    if said:
        print(visible.told(said))
    return 0


@contextmanager
def _noted(study: Study, arguments: argparse.Namespace) -> Iterator[None]:
    """Note what a stage was made from as it was before, once the stage is done."""
    stage = f"{arguments.rule}-{arguments.part}" if arguments.part else arguments.rule
    study.key(stage).unlink(missing_ok=True)
    made_from = freshness.key(study, stage, arguments.made_by)
    yield
    manifest.put(study.key(stage), made_from)


def _told(rule: str, study: Study) -> str:
    """Return what a person wants to hear at the end of a step, empty where it is nothing."""
    if rule == "check":
        remarks = study.check_notes.read_text(encoding="utf-8")
        return "         no faults" + (f"; remarks are in {study.check_notes}" if remarks else "")
    made = {"publish": study.site / "index.html", "crate": study.crate_zip}
    return f"         {made[rule]}" if rule in made else ""


def _end_when_interrupted() -> None:
    """Let Ctrl-C end the step with a sentence: a step may be killed at any moment, so nothing has to be tidied up."""

    def end(*_: object) -> NoReturn:
        print("Interrupted; the next run goes on from what is done.", file=sys.stderr, flush=True)
        os._exit(130)

    signal.signal(signal.SIGINT, end)


if __name__ == "__main__":
    _end_when_interrupted()
    sys.exit(main(sys.argv[1:]))
