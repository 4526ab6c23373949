"""Text that others wrote, as a terminal may show it: what would steer it, turn letters or hide itself is spelled out."""

from __future__ import annotations

import re

# signals, marks that turn the reading direction or have no width, halves of letters (a name that is no UTF-8), tags;
# joiners stay, which some scripts need
_HIDDEN = re.compile(
    "[\x00-\x1f\x7f-\x9f\u061c\u200b\u200e\u200f\u2028-\u202e\u2060-\u206f\ufeff\ufff9-\ufffb\ud800-\udfff\U000e0000-\U000e007f]"
)


def hidden(text: str, but: str = "") -> re.Match[str] | None:
    """Return where the first character stands that steers, turns or hides, other than those of `but`; None without one."""
    return next((found for found in _HIDDEN.finditer(text) if found.group() not in but), None)


def visible(text: str) -> str:
    """Return the text on one line, with line breaks and all else that a terminal would act on spelled out."""
    return "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in text)


def told(text: str) -> str:
    """Return a message of several lines, each as a terminal may show it."""
    return "\n".join(map(visible, text.split("\n")))
