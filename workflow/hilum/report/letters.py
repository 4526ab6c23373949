"""Letters that our font does not have: measured by others of its own, so that no picture depends on a machine's fonts.

Where a name holds a letter of another script, the engine that draws would measure it with whatever font it finds,
and margins would differ from machine to machine. So the letter is drawn as one that our font has and that stands
nowhere else in the figure, and is put back into the finished picture.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from unicodedata import east_asian_width

from hilum.study import SITE

COVERED = SITE / "assets" / "fonts" / "covered.txt"
# the broadest letters of our font first: those of other scripts are mostly broad
_BROAD = "ЊЮЉЩШЖЫщњшΏΌюΉљфФМΜЪΦώωΨЋψжЂϕφыỢỠỞỜỚỘỖỔỒỐỎỌОϴΟΘỰỮỬỪỨИЙЍНΗΝỦỤПЏΠЦДмЛ"
# with it a stand-in is as broad as a letter of East Asia
_THIN_SPACE = "\N{THIN SPACE}"
_RANGE = re.compile(r"([0-9A-F]+)(?:-([0-9A-F]+))?")


@cache
def covered() -> frozenset[str]:
    """Return every letter that our font has."""
    ranges = _RANGE.findall(COVERED.read_text(encoding="ascii"))
    return frozenset(
        chr(code) for low, high in ranges for code in range(int(low, 16), int(high or low, 16) + 1)
    )


def stand_ins(text: str) -> dict[str, str]:
    """Return for each letter of a figure that our font does not have what is measured in its place.

    That begins with a letter which our font has and the figure has not. Where there are more foreign letters than
    such ones, the last keep to the machine's fonts.
    """
    used = set(text)
    foreign = sorted(c for c in used - covered() if c.isprintable())
    free = [c for c in _BROAD if c in covered() and c not in used]
    # in the order of their code points, so that names sort as they did
    pairs = zip(foreign, sorted(free[: len(foreign)]), strict=False)
    return {c: own + (_THIN_SPACE if east_asian_width(c) in "WF" else "") for c, own in pairs}


def put_back(svg: str, names: Mapping[str, str]) -> str:
    """Return a finished picture with the foreign letters in their places."""
    for foreign, own in names.items():
        # a label that was cut may have lost the space
        svg = svg.replace(own, foreign).replace(own[0], foreign)
    return svg
