"""Somebody saves a raw table while the check reads: a test puts this folder on PYTHONPATH, and every Python of the run loads it.

MEANWHILE names the file that is to come, its place, and before the how-manieth raw file that the check opens it is put there.
"""

import json
import os
import pathlib
import sys

if "MEANWHILE" in os.environ and sys.orig_argv[1:4] == ["-m", "hilum", "check"]:
    coming, place, raw, number = json.loads(os.environ["MEANWHILE"])
    opened: list[str] = []

    def _heard(event, words):
        if event == "open" and str(words[0]).startswith(raw):
            opened.append(words[0])
            if len(opened) == number:
                pathlib.Path(coming).replace(place)

    sys.addaudithook(_heard)
