"""A fresh programme for each test, copied from one that is made once."""

import shutil
from pathlib import Path

import pytest

from registry.cli.main import run
from tests.cli.reef import PERMIT, Reef


@pytest.fixture(scope="session")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make the programme that every test begins with: a permit and one module with a memorial."""
    folder = tmp_path_factory.mktemp("template")
    keys = folder / "keys"
    registry = folder / "leadline.gpkg"
    permit = folder / "hb-0417.toml"
    permit.write_text(PERMIT, encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LEADLINE_KEYS", str(keys))
        patch.setenv("LEADLINE_REGISTRY", str(registry))
        for line in (
            ("new", "--programme", "Marram Coast Memorial Reefs", "--frame", "EPSG:6318", "--actor", "Ada"),
            ("permit", "add", str(permit)),
            ("module", "add", "MC-0001", "--type", "hump-90", "--memorial", "Ada Quill", "--consent-listed"),
        ):
            assert run(line) == 0
    return folder


@pytest.fixture
def reef(
    template: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Reef:
    """Stand in a folder that holds a copy of that programme."""
    shutil.copy(template / "leadline.gpkg", tmp_path)
    shutil.copy(template / "hb-0417.toml", tmp_path)
    shutil.copytree(template / "keys", tmp_path / "keys")
    for name in ("LEADLINE_REGISTRY", "LEADLINE_ACTOR", "LEADLINE_TRACEBACK"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("LEADLINE_KEYS", str(tmp_path / "keys"))
    monkeypatch.chdir(tmp_path)
    return Reef(tmp_path, capsys)
