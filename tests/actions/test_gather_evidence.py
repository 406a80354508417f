import hashlib
import json

import pytest

from registry.actions.gather_evidence import gather_evidence
from registry.records.entry import instant_text
from tests.audited import audited_registry
from tests.builders import (
    a_module,
    a_placement,
    a_resurvey,
    module_added,
    placement_logged,
    placement_resurveyed,
)

RAW = 'MR-0009,34 00.1 N 077 00.0 W,21 m,"Ada, Ben",Perdita Unlisted 555-0100'


def evidence_of(register, tag):
    (found,) = gather_evidence(register, register.placement_ids(tag))
    return found


def with_row(**source):
    placement = a_placement(
        tag="MR-0009",
        source={"file": "log.csv", "sha256": "ab" * 32, "row": 4, "key": "k", "raw": RAW, **source},
    )
    return audited_registry(module_added(a_module(tag="MR-0009")), placement_logged(placement))


def test_it_is_what_the_journal_holds():
    register = audited_registry()
    found = evidence_of(register, "MR-0001")
    (entry,) = (each for each in register.journal() if each.reference == found.placement_id)
    body = entry.content()
    told = found.content
    assert found.digest == told["entry"]["sha256"] == entry.expected_digest()
    assert told["entry"] == {
        "reference": entry.reference,
        "kind": "placement.corrected",
        "written_at": instant_text(entry.time),
        "actor": entry.actor,
        "sha256": entry.digest,
        "previous_sha256": entry.previous,
        "supersedes": body["supersedes"],
        "reason": "two digits swapped on the slate",
    }
    assert told["as_written"]["position"] == body["position_text"]
    assert told["position"]["in_the_home_frame"] == body["home"]
    assert told["when_it_was_logged"] == {"verdict": body["verdict"], "findings": body["findings"]}
    assert told["files"] == [{"name": "log.csv", "sha256": "0" * 64}]


def test_only_what_is_asked_for_is_given():
    register = audited_registry()
    wanted = list(register.placements().placement_id)[2:4]
    assert sorted(each.placement_id for each in gather_evidence(register, wanted)) == sorted(wanted)
    assert list(gather_evidence(register, ())) == []


def test_names_of_people_stay_in_the_journal():
    register = with_row(columns={"family": "Perdita Unlisted 555-0100"})
    found = evidence_of(register, "MR-0009")
    text = json.dumps(found.content)
    assert not any(private in text for private in ("Ada, Ben", "Perdita", "555-0100"))
    source = found.content["as_written"]["source"]
    assert source["row_as_it_stood"] == [
        "MR-0009",
        "34 00.1 N 077 00.0 W",
        "21 m",
        "withheld",
        "withheld",
    ]
    assert source["row_sha256"] == hashlib.sha256(RAW.encode()).hexdigest()
    assert "crew, column 'family'" in found.content["left_out"]


def test_a_row_whose_private_cells_are_not_found_is_withheld_whole():
    found = evidence_of(with_row(columns={"family": "written otherwise"}), "MR-0009")
    assert found.content["as_written"]["source"]["row_as_it_stood"] == "withheld"


def test_a_row_that_names_nobody_is_given_verbatim():
    placement = a_placement(
        tag="MR-0009", crew="", source={"file": "a.csv", "sha256": "0" * 64, "raw": "a;b"}
    )
    register = audited_registry(module_added(a_module(tag="MR-0009")), placement_logged(placement))
    found = evidence_of(register, "MR-0009")
    assert found.content["as_written"]["source"]["row_as_it_stood"] == "a;b"
    assert "left_out" not in found.content


def test_the_lines_of_a_log_are_given_apart_and_every_file_is_named():
    survey = {
        "inputs": {
            "frame": "EPSG:4326",
            "logged": {
                "files": [{"name": "day.nmea", "sha256": "cd" * 32}],
                "sentences": ["$GPGGA,1", "$GPGGA,2"],
                "window": "75 s",
            },
        },
        "steps": [],
    }
    depth = {"inputs": {"files": {"gauge": {"name": "tide.csv", "sha256": "ef" * 32}}}, "steps": []}
    placement = a_placement(tag="MR-0009", survey=survey, depth=depth)
    register = audited_registry(module_added(a_module(tag="MR-0009")), placement_logged(placement))
    found = evidence_of(register, "MR-0009")
    assert found.log_lines == ("$GPGGA,1", "$GPGGA,2")
    assert "sentences" not in found.content["position"]["derivation"]["inputs"]["logged"]
    assert [each["name"] for each in found.content["files"]] == ["log.csv", "day.nmea", "tide.csv"]
    # What the journal holds is not changed by looking at it.
    assert register.placement(found.placement_id).survey == survey


def test_resurveys_are_told_with_what_they_showed():
    register = audited_registry()
    (placement_id,) = register.placement_ids("MR-0001")
    register.append([placement_resurveyed(a_resurvey(placement_id=placement_id))])
    (seen,) = evidence_of(register, "MR-0001").content["resurveys"]
    assert seen["movement"]["verdict"] == "not shown to have moved"
    assert "crew" not in seen


@pytest.mark.parametrize("crew", ["", "Ada"])
def test_evidence_is_plain_json(crew):
    placement = a_placement(tag="MR-0009", crew=crew)
    register = audited_registry(module_added(a_module(tag="MR-0009")), placement_logged(placement))
    content = dict(evidence_of(register, "MR-0009").content)
    assert json.loads(json.dumps(content, allow_nan=False)) == content
