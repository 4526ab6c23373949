"""What a report says wrongly: a kind, the page and the sentence that a reader would stumble over."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Violation:
    """One contradiction of a report: its kind, and a sentence that says where and what."""

    kind: str
    says: str

    def __str__(self) -> str:
        """Return both in one line."""
        return f"{self.kind}: {self.says}"
