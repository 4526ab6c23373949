"""How far a long work is: on a terminal, in a pipe, and from the processes of a pool; the clock is ours."""

import io
import os
import pty

import pytest

from hilum import progress
from hilum.progress import Progress
from hilum.steps import parallel


class Clock:
    """Seconds that pass when they are told to."""

    def __init__(self):
        self.now = 100.0

    def __call__(self):
        """Return the second that it is."""
        return self.now


def work(stream, seconds, total):
    """Do so many pieces of so many seconds each, and return how it ended."""
    clock = Clock()
    known = Progress(total, stream, clock)
    for _ in range(total):
        clock.now += seconds
        known.done()
    known.end()
    return known


@pytest.fixture
def terminal(monkeypatch):
    """Give a stream that is a terminal, and what was written to it."""
    monkeypatch.setenv("TERM", "xterm")
    reads, writes = pty.openpty()
    stream = os.fdopen(writes, "w", encoding="utf-8")

    def written():
        stream.flush()
        os.set_blocking(reads, False)
        try:
            return os.read(reads, 100_000).decode()
        except BlockingIOError:
            return ""

    yield stream, written
    stream.close()
    os.close(reads)


def test_short_work_says_nothing(terminal):
    pipe, (stream, written) = io.StringIO(), terminal
    for one in (pipe, stream):
        work(one, 0.02, 100)
    assert pipe.getvalue() == written() == ""


def test_a_pipe_gets_whole_lines_now_and_then():
    pipe = io.StringIO()
    work(pipe, 0.5, 100)
    # 50 s: at 3 s, and each 10 s from there on
    assert pipe.getvalue().splitlines() == [
        "         6 of 100 done, about 47 s to go",
        "         26 of 100 done, about 37 s to go",
        "         46 of 100 done, about 27 s to go",
        "         66 of 100 done, about 17 s to go",
        "         86 of 100 done, about 7 s to go",
    ]


def test_pieces_tell_how_far_they_are_as_they_come():
    pipe, clock = io.StringIO(), iter(range(0, 1000, 7))
    assert list(progress.through("abcd", 4, stream=pipe, clock=lambda: next(clock))) == list("abcd")
    assert pipe.getvalue().splitlines() == [
        "         1 of 4 done, about 21 s to go",
        "         3 of 4 done, about 7 s to go",
    ]


def test_a_terminal_has_one_line_that_is_gone_at_the_end(terminal):
    stream, written = terminal
    work(stream, 2.5, 40)
    told = written()
    assert "\n" not in told
    lines = told.split("\r\x1b[K")
    assert lines[1] == "         2 of 40 done, about 2 min to go"
    assert lines[-2:] == ["         40 of 40 done", ""]


def test_a_terminal_that_cannot_write_over_is_a_pipe(terminal, monkeypatch):
    monkeypatch.setenv("TERM", "dumb")
    stream, written = terminal
    work(stream, 5.0, 2)
    assert written().splitlines() == ["         1 of 2 done, about 5 s to go"]


def test_work_in_one_piece_says_that_it_goes_on():
    pipe, clock = io.StringIO(), Clock()
    known = Progress(1, pipe, clock)
    for _ in range(200):
        clock.now += 1
        known.tell()
    assert pipe.getvalue().splitlines() == [
        f"         0 of 1 done, {so_far} so far" for so_far in ("53 s", "2 min", "3 min")
    ]


@pytest.mark.parametrize("apart", [False, True])
def test_finished_jobs_are_counted_whichever_process_did_them(apart, monkeypatch, capsys):
    clock = Clock()

    def hours_later(number):
        clock.now += 3600.0 * number
        return clock.now

    real = progress.of
    monkeypatch.setattr(progress, "of", lambda total: real(total, clock=lambda: hours_later(1)))
    monkeypatch.setattr(parallel, "cores", lambda: 2 if apart else 1)
    parallel.each([parallel.job(len, "work")] * 3, apart=apart)
    told = capsys.readouterr()
    assert "3 of 3 done" in told.err
    # standard output is for what was made
    assert told.out == ""
    assert parallel.starmap(divmod, [(9, 4), (7, 2), (8, 3)]) == [(2, 1), (3, 1), (2, 2)]
