"""YAML that acts, explodes, contradicts itself, hides, or is none: contents, and what is said of them in a config file."""

from __future__ import annotations

_LAUGHS = "\n".join(
    ["a0: &a0 [x, x]", *(f"a{i}: &a{i} [*a{i - 1}, *a{i - 1}]" for i in range(1, 60))]
)
_TEXTS = {
    "a billion words of a few": (_LAUGHS, "anchors and aliases"),
    "an alias": ("study: &a here\nquestion: *a\n", "anchors and aliases"),
    "a mapping that holds itself": ("study: &a\n  b: *a\n", "anchors and aliases"),
    "a tag that runs a program": ("study: !!python/object/apply:os.system [id]\n", "the tag"),
    "a tag of its own": ("study: !secret x\n", "the tag '!secret'"),
    "a tag of bytes": ("study: !!binary aGk=\n", "the tag"),
    "a key twice": ("study: here\nstudy: there\n", "the key study is there twice"),
    "a key twice, deep in it": ("study: {a: {b: 1, b: 2}}\n", "the key b is there twice"),
    "a merge of keys": ("<<: {study: here}\n", "<<"),
    "a key that is a list": ("? [a, b]\n: x\n", "a key must be a plain word"),
    "a key that is empty": ('"": x\n', "a key must be a plain word"),
    "two documents": ("study: here\n---\nstudy: there\n", "one document"),
    "brackets without end": ("study: " + "[" * 100_000, "brackets without end"),
    "keys without end": ("? " * 100_000, "brackets without end"),
    "a nest of forty": ("study: " + "[" * 40 + "]" * 40, "brackets without end"),
    "more values than are read": ("study: [" + "x," * 60_000 + "x]\n", "holds more than"),
    "two megabytes": ("study: " + "x" * 2_000_000, "is larger than"),
    "a day that there is not": ("study: 2025-13-45\n", "a day or a number that there is not"),
    "a number of many digits": ("study: " + "9" * 100_000, "a day or a number that there is not"),
    "a number to base sixty": ("study: " + "1:" * 200_000 + "1", "a day or a number"),
    "an escape that clears the screen": ('study: "\\e[2J\\e[HIdentical"\n', "holds \\u001b"),
    "a name that is turned": ("study: a\u202eb\n", "holds \\u202e"),
    "a key that is turned": ('"a\\u202eb": x\nstudy: here\n', "holds \\u202e"),
    "a letter without width": ("study: a\u200bb\n", "holds \\u200b"),
    "a signal": ("study: a\x07b\n", "holds \\u0007"),
    "a signal in a fault of YAML": ("study: \x1b[2J: : x\n", "holds \\u001b"),
    "NUL": ('study: "a\\0b"\n', "holds \\u0000"),
    "no keys": ("- a\n- b\n", "holds no"),
    "nothing": ("", "holds no"),
    "a bracket that stays open": ("study: [a\n", "is not valid YAML"),
    "a tabulator": ("study:\n\tx: 1\n", "is not valid YAML"),
    "a directive twice": ("%YAML 1.1\n%YAML 1.1\n---\nstudy: x\n", "is not valid YAML"),
    "a key that nobody knows": ("study: here\ntitle: x\nname: y\nsteers: 1\n", "steers"),
}
YAML = {name: (text.encode(), says) for name, (text, says) in _TEXTS.items()}
YAML["another encoding"] = ("study: hier\n".encode("utf-16"), "is not text in UTF-8")
YAML["bytes that are no text"] = (b"study: \xff\xfe\n", "is not text in UTF-8")
