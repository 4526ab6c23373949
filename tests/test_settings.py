"""A config file is understood, or refused in sentences."""

from pathlib import Path

import pytest

from hilum import settings


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
    ],
)
def test_a_fault_is_a_sentence(tmp_path, text, sentence):
    path = _file(tmp_path, text)
    with pytest.raises(settings.SettingsFault) as fault:
        settings.load(path)
    assert sentence in str(fault.value)
    assert str(fault.value).startswith(str(path))


def test_a_missing_config_file_is_named(tmp_path):
    with pytest.raises(settings.SettingsFault, match=r"nothing\.yaml: cannot be read"):
        settings.load(tmp_path / "nothing.yaml")


def test_every_fault_is_told_at_once(tmp_path):
    with pytest.raises(settings.SettingsFault) as fault:
        settings.load(_file(tmp_path, "study: here\nseed: -1\nmargin: 3\n"))
    assert len(str(fault.value).splitlines()) == 2
