"""The interface under generated requests, sound and broken: it keeps to its own description and never falls over."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

from registry.cli.main import run
from registry.records.access_token import Scope
from tests.web.test_interface import bearer

CHECKS = "not_a_server_error,status_code_conformance,content_type_conformance,response_headers_conformance,negative_data_rejection,ignored_auth,unsupported_method"


@pytest.mark.slow
def test_generated_requests_are_answered_as_described(served, capsys):
    """Schemathesis writes requests from the description of the interface; every answer must be a described one."""
    headers = bearer(served, *Scope)
    program = Path(sys.executable).with_name("schemathesis")
    command = [
        str(program), "run", f"{served.url}/openapi.json", "--header", f"Authorization: {headers['authorization']}",
        "--checks", CHECKS, "--max-examples", "15", "--seed", "417", "--no-color", "--phases", "examples,coverage,fuzzing",
        "--generation-database", "none", "--request-timeout", "20",
    ]  # fmt: skip
    done = subprocess.run(
        command, capture_output=True, text=True, check=False, timeout=300, cwd=served.registry.parent
    )
    assert done.returncode == 0, done.stdout[-8000:] + done.stderr[-2000:]
    generated = re.search(r"(\d+) generated, (\d+) passed", done.stdout)
    assert generated, done.stdout[-2000:]
    assert int(generated[2]) > 500
    # Whatever was written under the attack is sound, and follows from the journal.
    capsys.readouterr()
    assert run(("journal", "verify", "--registry", str(served.registry))) == 0
