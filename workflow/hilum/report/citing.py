"""How to cite: the version that ran, as CITATION.cff has it, and BibTeX entries for it and for published sources."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from hilum.analyses import Source
from hilum.markup import slug
from hilum.report.titles import TITLES

# "Rao J.N.K., Scott A.J. (1981). Journal of the American Statistical Association 76:221–230: what it is for."
_ARTICLE = re.compile(
    r"(?P<author>.+?) \((?P<year>\d{4})\)\. (?P<journal>[^:]+?) (?P<volume>\d+):"
    r"(?P<pages>\d+–\d+)(?:: (?P<note>.+))?\."
)
_INITIALS = re.compile(r" (?=(?:\w\.-?)+(?: |$))")
# what BibTeX would read as more than itself
_MARKS = re.compile(r"[&%#_$]")


@dataclass(frozen=True, kw_only=True)
class Citation:
    """The version of the pipeline that made a report; `state` is empty where it is the released one, unchanged."""

    authors: Sequence[str]
    title: str
    version: str
    year: str
    doi: str
    state: str

    @property
    def text(self) -> str:
        """Return the citation as it stands in a list of references."""
        year = self.year or "unreleased"
        of_state = f" ({self.state})" if self.state else ""
        doi = f" doi:{self.doi}" if self.doi else ""
        return f"{', '.join(self.authors)} ({year}). {self.title}. Version {self.version}{of_state}.{doi}"

    @property
    def bibtex(self) -> str:
        """Return the same as a BibTeX entry."""
        fields = {
            # an author with a comma is a person, any other a group, which braces keep in one piece
            "author": " and ".join(a if "," in a else f"{{{a}}}" for a in self.authors),
            "title": f"{{{self.title}}}",
            "version": self.version,
            "year": self.year,
            "doi": self.doi,
            "note": self.state[:1].upper() + self.state[1:],
        }
        return _entry("software", "hilum", fields)


def citation(cff: Mapping[str, Any], *, commit: str, released: bool) -> Citation:
    """Return how to cite what ran: `cff` is CITATION.cff as read, `commit` tells the state of the code.

    Year and DOI belong to the release, and are left out where anything else ran.
    """
    return Citation(
        authors=[_author(author) for author in cff["authors"]],
        title=cff["title"],
        version=str(cff["version"]),
        year=str(cff["date-released"])[:4] if released else "",
        doi=str(cff.get("doi", "")) if released else "",
        state="" if released else f"not a release: {_told(commit)}",
    )


def _told(commit: str) -> str:
    return f"commit {commit}" if commit[:7].isalnum() else commit


def _author(author: Mapping[str, str]) -> str:
    if "name" in author:
        return author["name"]
    return f"{author['family-names']}, {author['given-names']}"


def reference(source: Source) -> str:
    """Return a source as it stands in a list: its text, its title and DOI where known."""
    title, doi = TITLES.get(source.key), f" doi:{source.doi}" if source.doi else ""
    end = "" if title and title.endswith("?") else "."
    told = source.text.replace("). ", f"). {title}{end} ", 1) if title else source.text
    return f"{told}{doi}"


def bibtex(source: Source) -> str:
    """Return the BibTeX entry of a published source: no more than its text says, and its title where that is known."""
    found, title = _ARTICLE.fullmatch(source.text), TITLES.get(source.key, "")
    if not found:
        note = source.text.rstrip(".")
        return _entry("misc", slug(source.key), {"note": f"{note}.", "doi": source.doi})
    said = found.groupdict(default="")
    if title:
        said["title"] = f"{{{title}}}"
    said["author"] = " and ".join(
        _INITIALS.sub(", ", a, count=1) for a in said["author"].split(", ")
    )
    said["pages"] = said["pages"].replace("–", "--")
    return _entry("article", slug(source.key), {**said, "doi": source.doi})


def each_once(sources: Iterable[Source]) -> list[Source]:
    """Return each source once, by key: what several analyses take from it stands together."""
    found: dict[str, Source] = {}
    uses: dict[str, dict[str, None]] = {}
    for source in sources:
        where, _, use = source.text.rstrip(".").partition(": ")
        told = uses.setdefault(source.key, {})
        told |= {use: None} if use else {}
        text = f"{where}: {'; '.join(told)}." if told else f"{where}."
        found[source.key] = replace(source, text=text)
    return [found[key] for key in sorted(found)]


def bibliography(cited: Citation, sources: Iterable[Source]) -> str:
    """Return the entries of the pipeline and of all sources as one file."""
    return "\n\n".join([cited.bibtex, *map(bibtex, sources)]) + "\n"


def _entry(kind: str, key: str, fields: Mapping[str, str]) -> str:
    lines = [f"  {name} = {{{_plain(text)}}}," for name, text in fields.items() if text]
    return "\n".join([f"@{kind}{{{key},", *lines, "}"])


def _plain(text: str) -> str:
    return _MARKS.sub(lambda mark: f"\\{mark.group()}", text)
