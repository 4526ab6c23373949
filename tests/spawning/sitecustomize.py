"""Another system for a whole run, as macOS and Windows are: without what only Linux has, processes begun from nothing.

A test puts this folder on PYTHONPATH, and every Python of the run loads it by itself.
"""

import multiprocessing
import os
import sys

del os.sched_getaffinity, os.sched_setaffinity
os.cpu_count = lambda: 2
sys.modules["fcntl"] = None
multiprocessing.set_start_method("spawn")
