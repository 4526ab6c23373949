"""Progress that people can read: a line for each stage, and on a fault its sentences without the machinery.

Snakemake finds this package by its name. Everything that it leaves out stands in `.snakemake/log/`.
"""

from __future__ import annotations

import logging
import sys

from snakemake_interface_logger_plugins.base import LogHandlerBase
from snakemake_interface_logger_plugins.common import LogEvent

from hilum.visible import told

STAGES = {
    "check": "check    raw tables → checked tables",
    "fit": "fit      checked tables → estimates",
    "report": "report   estimates → charts and pages",
    "publish": "publish  pages → site",
    "crate": "crate    all of it → crate",
}
# Snakemake reads the config file before our own code can
_UNREADABLE = ("Config file must be given", "Config file is not valid", "load_configfile")
_CONFIG = (
    "the config file cannot be read as settings: it is a text file in UTF-8 of lines such as "
    "`study: data/…`; `python -m hilum.settings FILE` says what is wrong with it."
)
_NOTHING = "Nothing to be done: tables, settings and code are those of the last run."
# what a failed step has told in its own words
_TOLD = ("RuleException", "At least one job did not complete successfully")


class LogHandler(LogHandlerBase):
    """Write to standard error what a researcher wants to know while a run goes on."""

    writes_to_stream = True
    writes_to_file = False
    has_filter = True
    has_formatter = True
    needs_rulegraph = False

    def emit(self, record: logging.LogRecord) -> None:
        """Write the line of a record, if it has one."""
        line = self._line(record)
        if line:
            print(told(line), file=sys.stderr, flush=True)

    def _line(self, record: logging.LogRecord) -> str:
        event, text = getattr(record, "event", None), str(record.msg)
        if event == LogEvent.JOB_INFO:
            return self._stage(record)
        if event == LogEvent.JOB_ERROR:
            return _stopped(record)
        if any(words in text for words in _UNREADABLE):
            return _CONFIG
        if event == LogEvent.ERROR:
            return "" if any(words in text for words in _TOLD) else _sentences(text)
        if record.levelno >= logging.WARNING:
            return "" if text.startswith("Exiting because a job") else text
        return _NOTHING if text.startswith("Nothing to be done") else ""

    def _stage(self, record: logging.LogRecord) -> str:
        rule = getattr(record, "rule_name", "")
        line = _line_of(rule.removesuffix("_part"))
        if line and rule.endswith("_part"):
            line += f", part {record.wildcards['part']} of the experiments"  # type: ignore[attr-defined]
        if not line or not self.common_settings.dryrun:
            return line
        return f"{line}  (would run: {getattr(record, 'reason', '')})"


def _line_of(rule: str) -> str:
    """Return the line of a stage, also where a workflow that takes Hilum as a module put a word before its name."""
    for stage, line in STAGES.items():
        if rule == stage:
            return line
        if rule.endswith(f"_{stage}"):
            return f"{line}, {rule.removesuffix(f'_{stage}')}"
    return ""


def _stopped(record: logging.LogRecord) -> str:
    """Return why a stage stopped: it has said so itself, except where another machine ran it or would not take it."""
    stage, said = getattr(record, "rule_name", "a stage"), getattr(record, "rule_msg", None)
    if not said:
        return f"{stage} stopped for what is said above. A site that an earlier run made stays as it was."
    logs = ", ".join(str(path) for path in getattr(record, "log", None) or [])
    where = f"\nIts own words stand in {logs}." if logs else ""
    return f"{stage} stopped: {said}{where}\nA site that an earlier run made stays as it was."


def _sentences(text: str) -> str:
    """Return an error without its first line where that only says in which line of the Snakefile it rose."""
    head, _, rest = text.partition("\n")
    kept = rest if head.startswith("WorkflowError in file") and rest else text
    return "\n".join(line for line in kept.splitlines() if not line.startswith("  File "))
