"""A spreadsheet on its way in: sent, its columns told, doubtful rows settled, and then taken in once."""

import io
import re
import threading
import zipfile

import pytest

from registry.storage.clock import SystemClock
from registry.storage.geopackage import open_register
from tests.cli.reef import a_log, log_line
from tests.web.conftest import form_token

#: Rows 2 and 3 are good, 4 lacks its hemispheres, 5 lies on row 2, 6 lies far away, 7 has no time.
SHEET = a_log(
    2,
    log_line(2, position="33.9920 77.0070"),
    log_line(3, position="33.992000 N 77.007999 W"),
    log_line(4, position="35.992000 N 77.008000 W"),
    log_line(5, when=""),
)


def placements(site):
    with open_register(site.registry, clock=SystemClock(), writable=False) as register:
        return register.placements().tag.tolist()


def intakes(site):
    with open_register(site.registry, clock=SystemClock(), writable=False) as register:
        return [entry.content() for entry in register.journal(kind="intake.read")]


def send(client, content, name="day.csv", **fields):
    token = form_token(client, "/office/intake")
    data = content.encode() if isinstance(content, str) else content
    return client.post(
        "/office/intake", data={"form_token": token, **fields}, files={"file": (name, data, "text/csv")}
    )


def chosen_form(text):
    """Give the fields of the form of columns as they stand on the page."""
    fields = {}
    for select in re.finditer(r'<select name="([^"]+)"[^>]*>(.*?)</select>', text, re.S):
        found = re.search(r'<option value="([^"]*)" selected', select[2])
        fields[select[1]] = found[1] if found else ""
    for hidden in re.finditer(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', text):
        fields[hidden[1]] = hidden[2]
    return fields


STATED = {"frame": "own", "permit": "HB-0417", "zone": "own", "unit-depth": "own", "unit-r95": "own"}


def told(client, content=SHEET, name="day.csv", **stated):
    """Send a sheet and say what its columns mean; give its path."""
    answer = send(client, content, name)
    assert answer.status_code == 303, answer.text
    path = answer.headers["location"].removesuffix("/columns")
    fields = chosen_form(client.get(f"{path}/columns").text) | STATED | stated
    said = client.post(f"{path}/columns", data=fields)
    assert said.status_code == 303, said.text
    return path


def settle(client, path, number, **fields):
    text = client.get(f"{path}/rows/{number}").text
    seen = re.findall(r'name="seen" value="([^"]*)"', text)[0]
    data = {"form_token": form_token(client, "/office/intake"), "seen": seen, **fields}
    return client.post(f"{path}/rows/{number}", data=data)


def take_in_form(client, path):
    text = client.get(path).text
    form = text.split('take-in">', 1)[1].split("</form>", 1)[0]
    found = re.findall(r'name="([^"]+)" value="([^"]*)"', form)
    return {name: [value for key, value in found if key == name] for name, _ in found}


def take_in(client, path):
    return client.post(f"{path}/take-in", data=take_in_form(client, path))


def test_a_sheet_is_previewed_settled_and_taken_in(site):
    ada = site.client("Ada")
    before = placements(site)
    path = told(ada)
    text = ada.get(path).text
    for outlook in (
        "<strong>1</strong> accepted",
        "<strong>4</strong> doubtful",
        "<strong>1</strong> rejected",
    ):
        assert outlook in text, text
    assert "It could mean 33.9920 N 77.0070 W" in text
    assert placements(site) == before
    assert intakes(site) == []
    assert settle(ada, path, 4, how="mend", reading="33.9920 N 77.0070 W").status_code == 303
    assert settle(ada, path, 2, how="keep").headers["location"].endswith("/rows/5")
    assert settle(ada, path, 5, how="leave out", reason="written twice").status_code == 303
    waiting = re.findall(r"/rows/(\d+)\">Settle", ada.get(path).text)
    for number in waiting:
        settle(ada, path, int(number), how="keep")
    assert take_in(ada, path).headers["location"] == f"{path}/taken"
    new = placements(site)[len(before) :]
    assert set(placements(site)) - set(before) == {"LN-00000", "LN-00001", "LN-00002", "LN-00004"}, new
    (read,) = intakes(site)
    assert read["logged"] == 4
    assert [each["row"] for each in read["rejected"]] == [5, 7]
    assert "Left out by Ada: written twice" in read["rejected"][0]["reason"]
    rejects = ada.get(f"{path}/rejected.csv")
    assert "attachment" in rejects.headers["content-disposition"]
    assert rejects.text.count("\r\n") == 3
    assert "has no time" in rejects.text
    with open_register(site.registry, clock=SystemClock(), writable=False) as register:
        (entry,) = (e for e in register.journal(kind="placement.logged") if '"LN-00002"' in e.body)
    assert entry.actor == "Ada"
    assert entry.content()["source"]["mended"] == {"position": ["33.9920 77.0070", "33.9920 N 77.0070 W"]}


def test_the_same_file_twice_brings_nothing_new_also_with_a_mended_row(site):
    ada = site.client("Ada")
    sheet = a_log(1, log_line(50, position="33.9950 77.0030"))
    path = told(ada, sheet)
    settle(ada, path, 3, how="mend", reading="33.9950 N 77.0030 W")
    assert take_in(ada, path).status_code == 303
    count = len(placements(site))
    again = told(ada, sheet, "copy.csv")
    assert again == path
    text = ada.get(path).text
    assert "Nothing new" in text
    assert "<strong>2</strong> taken in before" in text
    assert "take-in" not in text
    # The same rows in another file: its rows are known by what they say.
    other = told(ada, sheet + "\n", "longer.csv")
    assert other != path
    assert "<strong>1</strong> taken in before" in ada.get(other).text or "Nothing new" in ada.get(other).text
    assert len(placements(site)) == count


def test_of_two_people_with_one_file_the_second_is_told(site):
    ada, eve = site.client("Ada"), site.client("Ada")
    path = told(ada, a_log(3))
    late = take_in_form(eve, path)
    assert take_in(ada, path).status_code == 303
    answer = eve.post(f"{path}/take-in", data=late)
    assert answer.status_code == 409
    assert "Ada took this file in at" in answer.text
    assert len(intakes(site)) == 1


def test_taken_in_at_the_same_instant_it_goes_in_once(site):
    clients = [site.client("Ada") for _ in range(4)]
    path = told(clients[0], a_log(20))
    form = take_in_form(clients[0], path)
    tokens = [form_token(client, "/office/intake") for client in clients]
    statuses = []

    def press(client, token):
        statuses.append(client.post(f"{path}/take-in", data=form | {"form_token": token}).status_code)

    threads = [threading.Thread(target=press, args=pair) for pair in zip(clients, tokens, strict=True)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(statuses) == [303, 409, 409, 409]
    assert len(intakes(site)) == 1


def test_rows_that_changed_since_they_were_looked_at_are_not_taken_in(site):
    ada = site.client("Ada")
    path = told(ada, a_log(3))
    late = take_in_form(ada, path)
    assert settle(ada, path, 2, how="leave out", reason="not sure").status_code == 303
    answer = ada.post(f"{path}/take-in", data=late)
    assert answer.status_code == 409
    assert "changed since you opened it" in answer.text
    assert intakes(site) == []


def test_of_two_who_settle_one_row_the_second_is_told_what_the_first_said(site):
    ada, eve = site.client("Ada"), site.client("Ada")
    path = told(ada)
    text = eve.get(f"{path}/rows/4").text
    seen = re.findall(r'name="seen" value="([^"]*)"', text)[0]
    settle(ada, path, 4, how="mend", reading="33.9920 N 77.0070 W")
    data = {
        "form_token": form_token(eve, "/office/intake"),
        "seen": seen,
        "how": "leave out",
        "reason": "unreadable",
    }
    answer = eve.post(f"{path}/rows/4", data=data)
    assert answer.status_code == 409
    assert "Ada settled row 4 meanwhile" in answer.text
    assert "33.9920 N 77.0070 W" in answer.text


def test_unsettled_rows_keep_the_file_out(site):
    ada = site.client("Ada")
    path = told(ada)
    version = re.findall(r'name="seen" value="([^"]*)"', ada.get(f"{path}/columns").text)[0]
    data = {"form_token": form_token(ada, "/office/intake"), "seen": version}
    answer = ada.post(f"{path}/take-in", data=data)
    assert answer.status_code == 400
    assert "Doubtful rows wait" in answer.text
    assert intakes(site) == []


def test_nothing_about_the_whole_file_is_assumed(site):
    ada = site.client("Ada")
    path = send(ada, "tag,position,when,depth\nMC-0003,34 00.2 N 77 00.0 W,2026-06-15 10:00,20\n").headers[
        "location"
    ]
    fields = chosen_form(ada.get(path).text)
    assert [fields[name] for name in ("frame", "permit", "zone", "unit-depth")] == ["", "", "", ""]
    for name, value in (("frame", "EPSG:4326"), ("permit", "HB-0417"), ("zone", "UTC"), ("unit-depth", "m")):
        answer = ada.post(path, data=fields)
        assert answer.status_code == 400, name
        assert "is not stated" in answer.text
        fields[name] = value
    assert ada.post(path, data=fields | {"frame": "other", "other_frame": "EPSG:9"}).status_code == 400
    assert ada.post(path, data=fields | {"zone": "other", "other_zone": "Moon/Base"}).status_code == 400
    assert ada.post(path, data=fields | {"frame": "other", "other_frame": ""}).status_code == 400
    assert ada.post(path, data=fields).status_code == 303
    text = ada.get(path.removesuffix("/columns")).text
    assert "Read in EPSG:4326, under permit HB-0417, times without a zone in UTC" in text


def test_what_was_said_of_columns_is_offered_for_the_next_file_of_that_header(site):
    ada = site.client("Ada")
    header = "Stone,Where,Seen at,Sounding\n"
    first = send(ada, header + "MC-0003,34 00.2 N 77 00.0 W,2026-06-15T10:00Z,20\n").headers["location"]
    fields = chosen_form(ada.get(first).text)
    assert fields["column-tag"] == ""
    fields |= {"column-tag": "0", "column-position": "1", "column-when": "2", "column-depth": "3"}
    fields |= STATED | {"frame": "EPSG:4326", "unit-depth": "m"}
    assert ada.post(first, data=fields).status_code == 303
    second = send(ada, header + "MC-0003,34 00.3 N 77 00.0 W,2026-06-16T10:00Z,20\n").headers["location"]
    text = ada.get(second).text
    offered = chosen_form(text)
    assert [offered[f"column-{name}"] for name in ("tag", "position", "when", "depth")] == [
        "0",
        "1",
        "2",
        "3",
    ]
    assert offered["unit-depth"] == "m"
    assert offered["frame"] == offered["permit"] == offered["zone"] == ""
    assert "filled in as Ada said them for day.csv" in text


@pytest.mark.parametrize(
    ("content", "told_of"),
    [
        (b"", "empty"),
        (b"\x00\x01\x02tag,position", "not a text"),
        (b"tag,position\nMC-1\x00,34", "not a text"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "not a text"),
        (b"%PDF-1.7 ...", "a PDF"),
        (",".join(f"c{n}" for n in range(10_000)).encode() + b"\n1\n", "10000 columns"),
        (b"tag,tag\n1,2\n", "both called"),
        (b"\xff\xfet\x00a\x00g", "cut short"),
        (b'"' + b"a" * 200_000, "header cannot be read"),
    ],
)
def test_hostile_files_are_told_in_clear_words_and_not_kept(site, content, told_of):
    ada = site.client("Ada")
    answer = send(ada, content)
    assert answer.status_code in {400, 503}, answer.text
    assert told_of in answer.text
    assert not list(site.folder.glob("leadline.gpkg.received/*"))


def test_a_packed_workbook_is_told_as_one(site):
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as workbook:
        workbook.writestr("xl/workbook.xml", "<workbook/>")
    answer = send(site.client("Ada"), packed.getvalue(), "renamed.csv")
    assert "save the sheet as CSV" in answer.text


def test_utf16_hostile_names_and_formulas_do_no_harm(site):
    ada = site.client("Ada")
    sheet = a_log(1, log_line(9, tag="=cmd|calc", position="<script>alert(1)</script>"))
    path = told(ada, sheet.encode("utf-16"), "../../<b>x</b>.csv")
    text = ada.get(path).text
    assert "<script>alert" not in text
    assert "<b>" not in text
    assert "../" not in ada.get("/office/intake").text.split("Sent before")[1]
    kept = {file.name for file in (site.folder / "leadline.gpkg.received").iterdir()}
    assert all(re.fullmatch(r"[0-9a-f]{64}|(intake|columns)-[0-9a-f]{64}\.json", name) for name in kept), kept
    assert take_in(ada, path).status_code == 303
    assert "'=cmd|calc" in ada.get(f"{path}/rejected.csv").text


def test_nothing_is_read_by_a_name_that_leads_elsewhere(site):
    ada = site.client("Ada")
    for digest in ("..%2f..%2fleadline.gpkg", "0" * 64, "x", "%00"):
        assert ada.get(f"/office/intake/{digest}").status_code == 404, digest
        assert ada.get(f"/office/intake/{digest}/rejected.csv").status_code == 404, digest


def test_a_long_sheet_comes_page_by_page(site):
    ada = site.client("Ada")
    path = told(ada, a_log(130))
    first, last = ada.get(path), ada.get(f"{path}?show=all&page=3")
    assert "page 1 of 3" in first.text
    assert "LN-00129" in last.text
    assert max(len(first.content), len(last.content)) < 100_000
    assert "page 3 of 3" in ada.get(f"{path}?show=all&page=999999").text
    assert ada.get(f"{path}?show=%27&page=-1").status_code == 200


@pytest.mark.parametrize("name", ["Bo", "Cy", None])
def test_only_the_office_sees_or_sends_anything(site, name):
    path = told(site.client("Ada"))
    client = site.client(name)
    for page in ("/office/intake", path, f"{path}/columns", f"{path}/rows/2", f"{path}/rejected.csv"):
        assert client.get(page).status_code == (303 if name is None else 403), page
    data = {"form_token": form_token(client, "/")} if name else {}
    for page in ("/office/intake", f"{path}/columns", f"{path}/rows/2", f"{path}/settle", f"{path}/take-in"):
        assert client.post(page, data=data).status_code == 403, page
