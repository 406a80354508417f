"""What the GeoPackage validator of another installation's GDAL says of a file."""

import shutil
import subprocess
from pathlib import Path

import pytest

VALIDATOR = ["/usr/bin/python3", "-m", "osgeo_utils.samples.validate_gpkg", "-k", "--extra"]


def need(*command: str) -> None:
    """Skip the test where a command cannot be run."""
    found = (
        shutil.which(command[0]) and subprocess.run(command, capture_output=True, check=False).returncode == 0
    )
    if not found:
        pytest.skip(f"{' '.join(command)} is not on this machine")


def assert_valid(path: Path) -> None:
    """Have the file validated: neither an error nor a warning."""
    need("/usr/bin/python3", "-c", "import osgeo_utils.samples.validate_gpkg")
    result = subprocess.run([*VALIDATOR, str(path)], capture_output=True, text=True, check=False, timeout=60)
    assert (result.returncode, result.stderr.strip()) == (0, "")
    assert "error" not in result.stdout.lower()
    assert "warning" not in result.stdout.lower()
