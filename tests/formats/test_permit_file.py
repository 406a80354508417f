from contextlib import suppress
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.errors import PermitError
from registry.formats.permit_file import read_permit_file
from registry.records.permit import Reporting

HEAD = """
[permit]
number = "HB-0417"
authority = "Harbour Bay Coastal Office"
valid_from = 2024-05-01
valid_to = 2034-04-30
chart_datum = "MLLW"
"""
AREA = """
[[area]]
id = "north-patch"
source = "areas.gpkg"
frame = "EPSG:6318"
"""
CORNERS = '["34 01.250 N 077 20.110 W", "34 01.250 N 077 19.110 W", "34 00.250 N 077 19.110 W"]'


def permit(head=HEAD, area=AREA, more=""):
    return read_permit_file(head + area + more)


def area_of(lines):
    (area,) = permit(area=f'[[area]]\nid = "patch"\n{lines}').areas
    return area


def limits(lines, rule="spacing"):
    (condition,) = permit(
        more=f'[[condition]]\nrule = "{rule}"\ncite = "Special condition 4"\n{lines}'
    ).conditions
    return dict(condition.limits)


def test_the_permit_itself():
    draft = permit()
    assert (draft.number, draft.authority, draft.chart_datum) == (
        "HB-0417",
        "Harbour Bay Coastal Office",
        "MLLW",
    )
    assert (draft.valid_from, draft.valid_to) == (date(2024, 5, 1), date(2034, 4, 30))
    assert draft.conditions == ()


def test_bytes_with_a_mark_and_windows_line_ends():
    content = (HEAD + AREA).replace("\n", "\r\n").encode("utf-8-sig")
    assert read_permit_file(content) == permit()


def test_an_unusual_chart_datum_is_asked_about_or_explained():
    with pytest.raises(PermitError, match="MLWL") as caught:
        permit(head=HEAD.replace('"MLLW"', '"MLWL"'))
    assert "MLW" in caught.value.remedy
    assert "chart_datum_note" in caught.value.remedy
    note = '"Local zero"\nchart_datum_note = "0.31 m below the bolt of the pier"'
    draft = permit(head=HEAD.replace('"MLLW"', note))
    assert draft.chart_datum == "Local zero (0.31 m below the bolt of the pier)"


def test_a_date_may_be_a_text():
    assert permit(head=HEAD.replace("2024-05-01", '"2024-05-01"')) == permit()


def test_an_area_from_a_layer():
    (area,) = permit(area=AREA + 'layer = "north"\nepoch = 2010.0\nedges = "rhumb"\n').areas
    assert (area.area_id, area.source, area.layer, area.frame, area.epoch, area.edges) == (
        "north-patch",
        "areas.gpkg",
        "north",
        "EPSG:6318",
        2010.0,
        "rhumb",
    )
    assert area.written == "areas.gpkg, layer north"


def test_an_area_from_corners():
    area = area_of(f"corners = {CORNERS}")
    assert (area.frame, area.epoch, area.edges) == (None, None, "geodesic")
    assert area.corners[0] == "34 01.250 N 077 20.110 W"
    assert area.written == "; ".join(area.corners)


def test_a_closing_corner_is_taken_off():
    closed = CORNERS.replace("]", ', "34 01.250 N 077 20.110 W"]')
    assert area_of(f"corners = {closed}") == area_of(f"corners = {CORNERS}")


def test_holes():
    area = area_of(f"corners = {CORNERS}\nholes = [{CORNERS}]")
    assert area.holes == (area.corners,)
    assert "without" in area.written


@pytest.mark.parametrize(
    ("line", "metres"),
    [('radius = "300 m"', 300.0), ("radius_m = 300", 300.0), ("radius_ft = 1000.0", 304.8)],
)
def test_a_circle(line, metres):
    area = area_of(f'centre = "34 01.250 N 077 20.110 W"\n{line}')
    assert area.radius.value == pytest.approx(metres)
    assert area.radius.dimension == "length"
    assert "around 34 01.250 N" in area.written


@pytest.mark.parametrize(
    ("line", "name", "value", "dimension"),
    [
        ("least_m = 6.0", "least", 6.0, "length"),
        ('least = "6.0 m"', "least", 6.0, "length"),
        ('least = "50 ft"', "least", 15.24, "length"),
        ("least_ft = 50", "least", 15.24, "length"),
        ("greatest_fathoms = 10", "greatest", 18.288, "length"),
        ("least_nmi = 3.0", "least", 5556.0, "length"),
        ("greatest_mass_kg = 1500", "greatest_mass", 1500.0, "mass"),
        ("greatest_mass_t = 1.5", "greatest_mass", 1500.0, "mass"),
        ('greatest_mass = "1500 kg"', "greatest_mass", 1500.0, "mass"),
        ("greatest_count = 120", "greatest_count", 120.0, "count"),
        ("greatest_share = 0.25", "greatest_share", 0.25, "share"),
        ('greatest_share = "25 %"', "greatest_share", 0.25, "share"),
    ],
)
def test_limits_with_their_unit(line, name, value, dimension):
    """1 ft = 0.3048 m, 1 fathom = 6 ft, 1 nmi = 1852 m by definition."""
    (found,) = limits(line).items()
    assert found[0] == name
    assert found[1].value == pytest.approx(value, abs=1e-12)
    assert found[1].dimension == dimension


@pytest.mark.parametrize(
    ("line", "name", "written"),
    [
        ('order = "1a"', "order", "1a"),
        ('order = "2"', "order", "2"),
        ('types = ["reef-dome", "reef-block"]', "types", "reef-dome,reef-block"),
        ('basis = "centre to centre"', "basis", "centre to centre"),
        ("survey = true", "survey", "true"),
        ("from = 2026-05-01", "from", "2026-05-01"),
    ],
)
def test_words(line, name, written):
    quantity = limits(line)[name]
    assert (quantity.dimension, quantity.written) == ("text", written)


def test_the_written_form_is_kept():
    assert limits("least_m = 6.0")["least"].written == "6.0 m"
    assert limits('least = "50 ft"')["least"].written == "50 ft"


@pytest.mark.parametrize(
    "line", ["least = 6.0", "least = 6", 'least = "6"', 'least = " 6,5 "', 'least = "1e1"']
)
def test_a_limit_without_unit_is_refused(line):
    with pytest.raises(
        PermitError, match=r"\[\[condition\]\] 1 \(spacing\): least = .* without unit"
    ) as caught:
        limits(line)
    assert "least_m" in caught.value.remedy


@pytest.mark.parametrize(
    ("text", "words"),
    [("50 furlongs", "furlongs"), ("2 tons", "ambiguous"), ("6 to 8 m", "6 to 8 m"), ("1,500 m", "comma")],
)
def test_a_quantity_that_cannot_be_read_says_why(text, words):
    with pytest.raises(PermitError, match=words) as caught:
        limits(f'least = "{text}"')
    assert "[[condition]] 1 (spacing): least" in caught.value.what
    assert caught.value.remedy


@pytest.mark.parametrize(
    "line",
    [
        "least_m = '6'",
        "least_m = true",
        "least_m = nan",
        "least_m = inf",
        "least_ft = [1]",
        "greatest_count = 1.5",
        "greatest_count = -1",
        "greatest_share = 25",
        'greatest_share = "250 %"',
        "types = []",
        'types = ["a,b"]',
        "types = [1]",
        'order = ""',
        "at = 12:30:00",
        "more = {a = 1}",
    ],
)
def test_values_of_the_wrong_kind_name_condition_and_key(line):
    key = line.split()[0]
    with pytest.raises(PermitError, match=key) as caught:
        limits(line)
    assert "[[condition]] 1 (spacing)" in caught.value.what
    assert caught.value.remedy


def test_a_limit_stated_twice():
    with pytest.raises(PermitError, match=r"'least' more than once.*least_ft"):
        limits("least_m = 6.0\nleast_ft = 20")


@pytest.mark.parametrize("key", ["number", "authority", "valid_from", "valid_to", "chart_datum"])
def test_missing_keys_are_named(key):
    head = "\n".join(line for line in HEAD.splitlines() if not line.startswith(key))
    with pytest.raises(PermitError, match=rf"\[permit\] has no {key}"):
        permit(head=f"{head}\n")


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("number =", "nubmer =", "unknown key 'nubmer'"),
        ('"HB-0417"', "417", "number = 417"),
        ('"HB-0417"', '" "', "number = ' '"),
        ("2024-05-01", "2024-05-01T00:00:00Z", "valid_from"),
        ("2024-05-01", '"1 May 2024"', "valid_from = '1 May 2024'"),
        ("2034-04-30", "2014-04-30", "ends on 2014-04-30, before it begins on 2024-05-01"),
        ("[permit]", "[licence]", "unknown key 'licence'"),
    ],
)
def test_a_head_that_is_wrong(old, new, words):
    with pytest.raises(PermitError) as caught:
        permit(head=HEAD.replace(old, new))
    assert words in caught.value.what
    assert caught.value.remedy


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ("", "without saying where it is"),
        (f'source = "a.gpkg"\ncorners = {CORNERS}', "in more than one way"),
        ('centre = "34 N 77 W"', "both a centre and a radius"),
        ('source = "a.gpkg"\nradius_m = 3', "both a centre and a radius"),
        ('centre = "34 N 77 W"\nradius_m = 3\nradius_ft = 9', "radius more than once"),
        ('centre = "34 N 77 W"\nradius_m = 0', "radius_m = "),
        ('centre = "34 N 77 W"\nradius = 300', "without unit"),
        ('centre = "34 N 77 W"\nradius = "300 kg"', "radius = "),
        (f'corners = {CORNERS}\nlayer = "a"', "layer 'a' but no source"),
        (f'source = "a.gpkg"\nholes = [{CORNERS}]', "holes but no corners"),
        ('corners = ["34 N 77 W", "35 N 77 W"]', "corners has 2 different corners"),
        ('corners = ["34 N 77 W", "35 N 77 W", "34 N 77 W"]', "corners has 2 different corners"),
        ("corners = [34.0, -77.0]", "corners = "),
        ("corners = [[-77.0, 34.0], [-76.0, 34.0], [-76.0, 35.0]]", "corners = "),
        (f'corners = {CORNERS}\nholes = ["34 N 77 W"]', "holes 1 = "),
        (f'corners = {CORNERS}\nholes = "none"', "holes = "),
        (f'corners = {CORNERS}\nedges = "straight"', "edges = 'straight'"),
        (f'corners = {CORNERS}\nepoch = "2010"', "epoch = '2010'"),
        (f"corners = {CORNERS}\nframe = 6318", "frame = 6318"),
        (f"corners = {CORNERS}\ncolour = 1", "unknown key 'colour'"),
    ],
)
def test_an_area_that_is_wrong(lines, words):
    with pytest.raises(PermitError) as caught:
        area_of(lines)
    assert words in caught.value.what
    assert "patch" in caught.value.what
    assert caught.value.remedy


def test_two_areas_of_one_name():
    with pytest.raises(PermitError, match="names an area twice: north-patch"):
        permit(area=AREA + AREA)


def test_no_area():
    with pytest.raises(PermitError, match="has no area"):
        permit(area="")


@pytest.mark.parametrize("text", ["[area]\nid = 'a'", "area = 3"])
def test_an_area_that_is_no_list_of_tables(text):
    with pytest.raises(PermitError, match=r"\[\[area\]\]"):
        read_permit_file((text + HEAD) if "=" in text.split("\n")[0] else HEAD + text)


@pytest.mark.parametrize("key", ["rule", "cite"])
def test_a_condition_without_rule_or_cite(key):
    lines = "\n".join(line for line in ('rule = "spacing"', 'cite = "4"') if not line.startswith(key))
    with pytest.raises(PermitError, match=f"has no {key}"):
        permit(more=f"[[condition]]\n{lines}\n")


def test_what_is_no_toml_names_line_and_column():
    with pytest.raises(PermitError, match=r"not TOML.*line 3, column 11"):
        read_permit_file("[permit]\nnumber = 'a'\nvalid = 1 May\n")


def test_another_encoding_names_line_and_byte():
    with pytest.raises(PermitError, match=r"Line 3 .*0xe9.*UTF-8"):
        read_permit_file(HEAD.replace("HB-", "Hé").encode("latin-1"))


def test_deep_nesting_is_no_crash():
    with pytest.raises(PermitError):
        read_permit_file("a = " + "[" * 100_000)


@given(st.text(max_size=200) | st.binary(max_size=200))
def test_any_content_is_read_or_refused(content):
    with pytest.raises(PermitError):
        read_permit_file(content)


@given(st.integers(0, len(HEAD + AREA)), st.text(max_size=6))
def test_any_slip_of_the_pen_is_read_or_refused(place, slip):
    text = HEAD + AREA
    with suppress(PermitError):
        read_permit_file(text[:place] + slip + text[place:])


def test_the_design_wave_and_its_coefficients():
    read = limits(
        'wave_height = "20 ft"\nwave_period_s = 12\nwater_density_kg_m3 = 1025.5\nwater_level = "3 ft"\n'
        "drag_coefficient = 1.05\nleast_sliding_factor = 1.5\nfriction_coefficient = 0",
        rule="stability",
    )
    told = {name: (quantity.value, quantity.dimension, quantity.written) for name, quantity in read.items()}
    assert told == {
        "wave_height": (pytest.approx(6.096), "length", "20 ft"),
        "wave_period": (12.0, "time", "12 s"),
        "water_density": (1025.5, "density", "1025.5 kg/m3"),
        "water_level": (pytest.approx(0.9144), "length", "3 ft"),
        "drag_coefficient": (1.05, "ratio", "1.05"),
        "least_sliding_factor": (1.5, "ratio", "1.5"),
        "friction_coefficient": (0.0, "ratio", "0"),
    }
    assert limits('wave_period = "12 s"')["wave_period"] == read["wave_period"]
    assert limits('water_density = "1025.5 kg/m3"')["water_density"].dimension == "density"


@pytest.mark.parametrize("value", ['"1.05"', '"medium"', "true", "nan", '"5 %"'])
def test_a_coefficient_is_a_plain_number(value):
    with pytest.raises(PermitError, match="drag_coefficient"):
        limits(f"drag_coefficient = {value}", rule="stability")


def test_windows_of_a_season_are_kept_as_words():
    assert limits('closed = ["05-01 to 10-31", "12-24 to 01-02"]', rule="season")["closed"].written == (
        "05-01 to 10-31,12-24 to 01-02"
    )
    assert limits('open = "11-01 to 04-30"', rule="season")["open"].dimension == "text"
    assert (
        limits('open = "1 November to 30 April"', rule="season")["open"].written == "1 November to 30 April"
    )


def test_a_permit_says_who_holds_it_or_nobody():
    assert permit().holder == ""
    assert permit(head=HEAD + 'holder = "Tern Reef Trust"\n').holder == "Tern Reef Trust"


def conditions_for(lines):
    (condition,) = permit(
        more=f'[[condition]]\nrule = "spacing"\nleast_m = 6\ncite = "SC 4"\n{lines}'
    ).conditions
    return condition.areas


def test_a_condition_may_be_limited_to_areas():
    assert conditions_for("") == ()
    assert conditions_for('area = "north-patch"') == ("north-patch",)
    assert conditions_for('area = [" north-patch ", "south-patch"]') == ("north-patch", "south-patch")


@pytest.mark.parametrize(
    "lines", ["area = []", 'area = ""', "area = 3", 'area = ["a", "a"]', 'area = ["a", 3]']
)
def test_an_area_that_is_no_name_is_refused(lines):
    with pytest.raises(PermitError, match=r"\[\[condition\]\] 1 \(spacing\): area"):
        conditions_for(lines)


REPORTING = """
[reporting]
frame = "EPSG:32119"
notation = "dms"
length_unit = "ftUS"
mass_unit = "short tons"
notice_days_before = 14
notice_cite = "General condition 3"
report_days_after = 30
report_cite = "General condition 5"
"""


def test_how_the_authority_wants_to_be_told():
    assert permit().reporting == Reporting()
    assert permit(more="[reporting]\n").reporting == Reporting()
    assert permit(more=REPORTING).reporting == Reporting(
        frame="EPSG:32119",
        notation="dms",
        length_unit="ftUS",
        mass_unit="short tons",
        notice_days_before=14,
        notice_cite="General condition 3",
        report_days_after=30,
        report_cite="General condition 5",
    )


@pytest.mark.parametrize("unit", ["kg", "t", "lb", "short tons"])
def test_every_unit_of_mass_that_a_permit_may_ask_for(unit):
    assert permit(more=REPORTING.replace("short tons", unit)).reporting.mass_unit == unit


@pytest.mark.parametrize(
    ("was", "becomes", "told"),
    [
        ('"dms"', '"degrees"', "notation = 'degrees'.*dd, ddm, dms"),
        ('"ftUS"', '"feet"', "length_unit.*m, ft, ftUS, fathoms"),
        ('"short tons"', '"tons"', "mass_unit.*kg, t, lb, short tons"),
        ("= 14", "= 14.5", "notice_days_before.*whole number"),
        ("= 14", "= -1", "notice_days_before.*whole number"),
        ("= 30", '= "30 days"', "report_days_after.*plain number"),
        ('notice_cite = "General condition 3"', "", "notice_days_before = 14 names no source.*notice_cite"),
        ("report_days_after", "report_days", "unknown key 'report_days'"),
        ("[reporting]", "[[reporting]]", "'reporting' otherwise than as a .reporting. table"),
    ],
)
def test_what_is_said_of_reports_must_be_understood(was, becomes, told):
    with pytest.raises(PermitError, match=f"(?s){told}"):
        permit(more=REPORTING.replace(was, becomes))
