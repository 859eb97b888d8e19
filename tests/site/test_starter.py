"""The starter file loads as it is, shows every section, and is never written over a file."""

import re
from pathlib import Path

import pytest

from advisor.errors import InputError
from advisor.site import starter
from advisor.site.load import load_site, load_text
from advisor.site.schema import Site


def test_it_loads_and_is_marked_as_invented(tmp_path: Path) -> None:
    file = tmp_path / "new.yaml"
    starter.write(file)
    assert load_site(file).site.site.invented


def test_every_section_is_there_and_loads() -> None:
    uncommented = "\n".join(re.sub("^#(?=[a-z]+:)", "", line) for line in starter.text().splitlines())
    loaded = load_text(uncommented, "starter")
    assert {section for section in Site.model_fields if loaded.gave(section)} == set(Site.model_fields)


def test_a_file_is_never_overwritten(tmp_path: Path) -> None:
    file = tmp_path / "mine.yaml"
    file.write_text("mine")
    with pytest.raises(InputError, match=r"already[^\n]*\n.*another name"):
        starter.write(file)
    assert file.read_text() == "mine"


def test_a_missing_folder_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="folder"):
        starter.write(tmp_path / "nowhere" / "new.yaml")
