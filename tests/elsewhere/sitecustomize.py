"""Another day for a whole run: a test puts this folder on PYTHONPATH, and every Python of the run loads it by itself."""

import ctypes
import datetime
import gc
import time

AHEAD = 400 * 86_400 + 12_345

_time, _time_ns = time.time, time.time_ns


def _later(function):
    """Return a function of the time module that tells of now unless it is given a time."""
    return lambda seconds=None: function(time.time() if seconds is None else seconds)


time.time = lambda: _time() + AHEAD
time.time_ns = lambda: _time_ns() + AHEAD * 10**9
time.localtime, time.gmtime, time.ctime = map(_later, (time.localtime, time.gmtime, time.ctime))
_strftime = time.strftime
time.strftime = lambda form, moment=None: _strftime(form, moment or time.localtime())


def _now(cls, tz=None):
    return cls.fromtimestamp(time.time(), tz)


def _utcnow(cls):
    return _now(cls, datetime.UTC).replace(tzinfo=None)


def _today(cls):
    return cls.fromtimestamp(time.time())


def _taught(made_in_c, **methods):
    """Give a class written in C other methods: pandas' own C code needs the class itself, not an heir."""
    gc.get_referents(made_in_c.__dict__)[0].update({n: classmethod(m) for n, m in methods.items()})
    ctypes.pythonapi.PyType_Modified(ctypes.py_object(made_in_c))


_taught(datetime.date, today=_today)
_taught(datetime.datetime, today=_today, now=_now, utcnow=_utcnow)
