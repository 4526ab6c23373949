"""Formulas as people type them: what is copied from a page holds no command of LaTeX and no lone symbols."""

from __future__ import annotations

import re
from collections.abc import Callable

_GREEK = {
    "lambda": "λ",
    "mu": "μ",
    "nu": "ν",
    "sigma": "σ",
    "theta": "θ",
    "Phi": "Φ",
}
_POWERS = str.maketrans("0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹")
# each is done in its turn, what stands inside of another first
_WAYS: tuple[tuple[str, str | Callable[[re.Match[str]], str]], ...] = (
    (r"\\operatorname\{(\w+)\}\s*", r"\1 "),
    (r"\^\{?(\d+)\}?", lambda m: m[1].translate(_POWERS)),
    (r"_(?:\{(\d+)\}|(\d))", lambda m: m[1] or m[2]),
    (r"\\([A-Za-z]+)", lambda m: _GREEK.get(m[1], m[0])),
    (r"_\{?(\w+)\}?", r"_\1"),
    (r"\\(ln|log|exp)(\d*)(\()?\s*", lambda m: f"{m[1]}{m[2]}{m[3] or ' '}"),
    (r"(?<=\w)(ln|log|exp)\b", r" \1"),
    (r"\\sqrt\{([^{}]*)\}", r"√(\1)"),
    (r"\\frac\{([^{}]*)\}\{([^{}]*)\}", r"(\1)/(\2)"),
    (r"\\,\s*", " · "),
    (r"-", "\N{MINUS SIGN}"),
    (r"\s+", " "),
)


def typed(latex: str) -> str:
    r"""Return a LaTeX formula on one line of text: `F(t) = G\,F_0((\ln t - \ln t_{50})/\sigma)` as `F(t) = G · F0((ln t − ln t50)/σ)`.

    Raises ValueError where it holds a command that this does not know.
    """
    text = latex
    for found, put in _WAYS:
        text = re.sub(found, put, text)
    if left := re.search(r"\\\w*|[{}]", text):
        raise ValueError(f"formula {latex}: {left.group()} cannot be typed; add it to {__name__}")
    return text.strip()
