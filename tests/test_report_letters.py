"""Names in letters that our font does not have: no picture depends on the fonts of a machine."""

import hashlib
import os
import subprocess
import sys

from fontTools.ttLib import TTFont

from hilum.report import letters, render

FOREIGN = "漢字漢字漢字"
SPEC = {
    "$schema": "https://vega.github.io/schema/vega-lite/v6.json",
    "config": {"font": "Hilum Sans, sans-serif"},
    "data": {"values": [{"lot": FOREIGN, "n": 1}, {"lot": "Щ plain", "n": 2}]},
    "mark": "bar",
    "encoding": {
        "y": {"field": "lot", "type": "nominal"},
        "x": {"field": "n", "type": "quantitative"},
    },
}


def test_the_list_of_letters_is_that_of_the_fonts():
    for weight in ("Regular", "Bold"):
        font = TTFont(render.FONTS / f"HilumSans-{weight}.ttf")
        assert {chr(code) for code in font.getBestCmap()} == letters.covered()


def test_a_foreign_letter_is_measured_as_one_of_ours_that_stands_nowhere_else():
    names = letters.stand_ins("Щ plain → ≥ 漢字 ☃ ع")
    assert set(names) == set("漢字☃ع")
    firsts = [own[0] for own in names.values()]
    assert len(set(firsts)) == 4
    assert set(firsts) <= letters.covered()
    assert "Щ" not in firsts
    # what comes before stays before
    assert sorted(names) == sorted(names, key=lambda foreign: names[foreign])
    # a letter of East Asia is as broad as it is high
    assert [len(names[c]) for c in "漢字☃ع"] == [2, 2, 1, 1]
    assert letters.stand_ins("Waldkiefer, Ñandú, π ≥ 3 °C") == {}


def test_more_foreign_letters_than_stand_ins():
    many = "".join(map(chr, range(0x4E00, 0x4F00)))
    names = letters.stand_ins(many)
    assert 50 < len(names) < len(many)
    assert len({own[0] for own in names.values()}) == len(names)


def test_letters_are_put_back_also_where_a_label_was_cut():
    names = letters.stand_ins(FOREIGN)
    spelled = "".join(names.get(c, c) for c in FOREIGN)
    assert letters.put_back(spelled, names) == FOREIGN
    assert letters.put_back(spelled[:-1], names) == FOREIGN


def test_a_picture_is_the_same_for_a_user_whose_fonts_have_those_letters(tmp_path):
    """And would not be if the engine were left to measure them."""
    home = tmp_path / "home"
    (home / ".fonts").mkdir(parents=True)
    font = TTFont(render.FONTS / "HilumSans-Regular.ttf")
    for table in font["cmap"].tables:
        table.cmap |= {ord(letter): table.cmap[ord("i")] for letter in FOREIGN}
    for name in font["name"].names:
        if name.nameID in (1, 4, 6, 16):
            name.string = "Elsewhere"
    font.save(home / ".fonts/elsewhere.ttf")
    code = (
        "import hashlib, json, sys, vl_convert; from hilum.report import render\n"
        "spec = json.loads(sys.argv[1])\n"
        "for svg in (render.picture(spec), vl_convert.vegalite_to_svg(spec)):\n"
        "    print(hashlib.sha256(svg.encode()).hexdigest())"
    )
    command = [sys.executable, "-c", code, render.as_json(SPEC)]
    there = os.environ | {"HOME": str(home), "XDG_DATA_HOME": str(home)}
    done = subprocess.run(command, capture_output=True, text=True, check=True, env=there)
    ours, left_alone = done.stdout.split()
    picture = render.picture(SPEC)
    assert FOREIGN in picture
    assert "Щ plain" in picture
    assert ours == hashlib.sha256(picture.encode()).hexdigest()
    here = render.vl_convert.vegalite_to_svg(SPEC)
    assert left_alone != hashlib.sha256(here.encode()).hexdigest()
