"""A config file is understood, or refused in sentences."""

from pathlib import Path

import pytest

from hilum import settings
from hilum.study import Study


def _file(folder: Path, text: str) -> Path:
    path = folder / "config.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def test_one_key_is_enough(tmp_path):
    found = settings.load(_file(tmp_path, "study: here\n"))
    assert found.study == tmp_path / "here"
    assert found.confidence == 0.95


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        (
            "study: here\nconfidense: 0.9\n",
            "confidense is not a setting; known are study, confidence",
        ),
        ("confidence: 0.9\n", "the key study is missing or empty"),
        ("study: here\nconfidence: 2\n", "confidence is 2: input should be less than 1"),
        ("study: [\n", "is not valid YAML"),
        ("", "holds no settings"),
        ("study:\n", "the key study is missing or empty"),
        ("study: !!python/object/apply:os.system ['true']\n", "is not valid YAML"),
        ("# no key\n", "holds no settings; the one needed line is `study: data/…`."),
        ("[study, here]\n", "holds no settings"),
        # the later study was taken without a word
        ("study: one\nstudy: two\n", "line 2: is not valid YAML: the key study is there twice."),
        # the folder of the config file itself was taken
        ('study: ""\n', "the key study is missing or empty"),
        # each of these ended in a traceback
        ("study: 2025-13-45\n", "is not valid YAML: a day or a number that there is not"),
        ("[" * 5000, "brackets without end"),
        (
            'study: "a\\0b"\n',
            "line 1: is not valid YAML: it holds \\u0000, a character that cannot be seen",
        ),
        (f"study: {'x' * 5000}\n", "study is no path that a folder can have."),
        ("study: /\n", "study is /, the whole disk; name a folder."),
        ("{1: 2, study: here}\n", "1 is not a setting; known are study"),
        ("study: here\nseed: yes\n", "seed is True: input should be a valid integer"),
        (
            "study: here\ngermination_indices: 1\n",
            "germination_indices is 1: input should be a valid boolean",
        ),
    ],
)
def test_a_fault_is_a_sentence(tmp_path, text, sentence):
    path = _file(tmp_path, text)
    with pytest.raises(settings.SettingsFault) as fault:
        settings.load(path)
    assert sentence in str(fault.value)
    assert str(fault.value).startswith(str(path))
    assert len(str(fault.value).splitlines()) == 1


def test_what_only_pages_show_does_not_fit_a_study_anew(tmp_path):
    plain = settings.load(_file(tmp_path, "study: here\n"))
    asked = settings.load(_file(tmp_path, "study: here\ngermination_indices: true\n"))
    assert (plain.germination_indices, asked.germination_indices) == (False, True)
    assert asked.chosen() != plain.chosen()
    assert asked.computed() == plain.computed()
    assert asked.model_copy(update={"seed": 2}).computed() != plain.computed()


def test_a_config_file_that_is_not_utf8(tmp_path, capsys):
    path = tmp_path / "config.yaml"
    path.write_bytes("study: hier\n".encode("utf-16"))
    assert settings.main([str(path)]) == 1
    assert capsys.readouterr().err == f"{path}: is not text in UTF-8; save it as UTF-8.\n"


def test_a_study_among_its_own_results_is_refused(tmp_path):
    """A run would have put its checked tables in the place of the raw ones."""
    with pytest.raises(settings.SettingsFault, match="move the study elsewhere"):
        Study(raw=tmp_path / "results/here/checked", results=tmp_path / "results/here")


def test_a_missing_config_file_is_named(tmp_path):
    with pytest.raises(settings.SettingsFault, match=r"nothing\.yaml: cannot be read"):
        settings.load(tmp_path / "nothing.yaml")


def test_every_fault_is_told_at_once(tmp_path):
    with pytest.raises(settings.SettingsFault) as fault:
        settings.load(_file(tmp_path, "study: here\nseed: -1\nmargin: 3\n"))
    assert len(str(fault.value).splitlines()) == 2
