"""What a maker installs is what was tested, and its licences are told."""

import sys
import tomllib
from importlib.metadata import version

import pytest
from guide import ROOT, without_list
from libraries import CONSTRAINTS, OURS, PROJECT, installed, listed, pins

AGAIN = "run: python tests/libraries.py"


def test_uv_and_pip_are_held_to_the_tested_versions() -> None:
    assert CONSTRAINTS.read_text(encoding="utf-8").splitlines() == pins(), AGAIN
    here = {f"{each.name}=={each.version}" for each in installed()}
    assert here <= {*pins()}, AGAIN
    if sys.platform == "linux":  # elsewhere some are not needed
        assert here == {*pins()}, AGAIN


@pytest.mark.skipif(sys.platform != "linux", reason="the list is that of Linux")
def test_every_library_is_listed_with_the_licence_that_its_metadata_tells() -> None:
    table = {row.split(" | ")[0].strip("| "): row.split(" | ")[2] for row in listed()[2:]}
    assert table == {each.name: each.licence for each in installed()}, AGAIN
    assert "none told" not in table.values()


def test_the_newest_change_is_that_of_this_version() -> None:
    with PROJECT.open("rb") as file:
        told = tomllib.load(file)["project"]["version"]
    changes = without_list().partition("## Changes")[2].partition("\n## ")[0]
    newest = next(line for line in changes.splitlines() if line.startswith("**"))
    assert newest.startswith(f"**{told}**")
    assert version(OURS) == told
    assert (ROOT / "tests" / "shop" / "form_1").is_dir()
