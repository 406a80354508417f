"""Second opinions of pages, where node and what `.node/package.json` names are there: html-validate and axe-core."""

import json
import shutil
import subprocess
from pathlib import Path

import pytest

FOLDER = Path(__file__).resolve().parents[2] / ".node" / "node_modules"
VALIDATOR = FOLDER / "html-validate" / "bin" / "html-validate.mjs"
AXE = FOLDER / "axe-core" / "axe.min.js"

needs_npm = pytest.mark.skipif(
    shutil.which("node") is None or not VALIDATOR.exists() or not AXE.exists(),
    reason="html-validate and axe-core are not there: npm install in .node, as scripts/test does",
)


def complaints(*pages):
    """Say what the validator finds wrong with files of HTML, by the rules of the living standard."""
    config = pages[0].parent / ".htmlvalidate.json"
    config.write_text('{"root": true, "extends": ["html-validate:standard"]}', encoding="utf-8")
    done = subprocess.run(
        ["node", VALIDATOR, "--config", config, "--formatter", "json", *pages],
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
        timeout=120,
    )
    assert done.returncode in (0, 1), done.stderr
    return [
        f"{each['line']}:{each['column']} {each['ruleId']}: {each['message']}"
        for file in json.loads(done.stdout)
        for each in file["messages"]
    ]


def barriers(page):
    """Say what axe finds in a page as it stands, with how grave it is."""
    page.evaluate(AXE.read_text(encoding="utf-8"))
    found = page.evaluate("axe.run(document)")
    return [
        f"{each['impact']} {each['id']}: {each['nodes'][0]['html'][:120]}" for each in found["violations"]
    ]
