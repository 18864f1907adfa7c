"""Reading sheets: every fault in one pass, each with its right line; whatever the text, no traceback."""

import re
import tomllib

import pytest
import tomlkit
from hypothesis import given, settings
from hypothesis import strategies as st

from references import named_sheet, read_sheet, shipped_keys, shipped_sheet, shipped_text
from references.errors import SheetError, UnknownSheetError
from references.release_sheet.reading import find_faults, named_text
from references.release_sheet.toml_lines import line_numbers, nearest_line
from references.release_sheet.values import ABSENT, Counts, Range, Traits

TEXT = shipped_text("saltmarsh-ferry")
quick = settings(derandomize=True, deadline=None, max_examples=40)


def faults(text):
    with pytest.raises(SheetError) as caught:
        read_sheet(text, name="my.toml")
    return [fault.text("my.toml") for fault in caught.value.faults]


def line_of(text, piece, occurrence=1):
    place = -1
    for _ in range(occurrence):
        place = text.index(piece, place + 1)
    return text.count("\n", 0, place) + 1


def test_the_shipped_sheet_is_the_ferry():
    ferry = shipped_sheet("saltmarsh-ferry")
    assert "saltmarsh-ferry" in shipped_keys()
    assert ferry.release_ids == ("first", "second", "third", "export")
    plate, hull = ferry.part("bow-plate"), ferry.part("hull")
    assert plate.feature("width").by_release["first"] == Range(176.0, 179.5, 6)
    assert plate.feature("width").by_release["third"] is ABSENT
    assert plate.absent_from("third")
    assert hull.feature("stamp").by_release["export"] == Traits({"present": 0.85, "none": 0.15})
    assert ferry.part("deck-rail").feature("posts").by_release["third"] == Counts({8: 1.0})


BROKEN = [
    ('unit = "mm"', "", 1, "unit: missing"),
    ('format = "cardspan-sheet/1"', 'format = "cardspan-sheet/9"', None, "format:"),
    ("swap_rate = 0.05", "swap_rate = 1.5", None, "swap_rate: 1.5 is not a share"),
    (
        "prior = 0.05",
        "prior = 0.5",
        line_of(TEXT, "prior = 0.4"),
        "the shares of all releases add up to 1.45",
    ),
    (
        "max = 179.5",
        "max = 17.95",
        None,
        "bow-plate.width.by_release.first.min: min 176.0 lies above max 17.95",
    ),
    ("max = 179.5", 'max = "179,5 furlongs"', None, '"179,5 furlongs" is not a length'),
    ("standoff_mm = 40.0", 'standoff_mm = "high"', None, "wheelhouse.height.standoff_mm"),
    (
        "standoff_std_mm = 2.0",
        "standoff_std_mm = -2.0",
        None,
        "wheelhouse.height.standoff_std_mm: -2 is negative",
    ),
    (
        'measured_as = "tip"',
        'measured_as = "tap"',
        None,
        'funnel-cap.tip-radius.measured_as: "tap" is not known',
    ),
    ("first = 5", "first = 5.5", None, "lifeboat.screws.by_release.first"),
    ("third = 8", "thrid = 8", None, "deck-rail.posts.by_release.thrid: unknown release"),
    ("present = 0.85", "present = 0.7", None, "the frequencies add up to 0.85"),
    (
        'second = "plug-in"',
        'second = "plugin"',
        None,
        'paddle-wheel.axle.by_release.second: "plugin" is not listed',
    ),
    ('id = "second"', 'id = "first"', None, 'first.id: "first" is used twice'),
    ('id = "depth"', 'id = "width"', None, 'bow-plate.width.id: "width" is used twice'),
    ('id = "hull"', 'id = "none"', None, 'none.id: "none" is a reserved word'),
    ('id = "hull"', 'id = "The Hull"', None, "The Hull.id: 'The Hull' is not a key"),
    ("keep_in_place = true", "keep_in_plaice = true", None, '(did you mean "keep_in_place"?)'),
    ("keep_in_place = true", 'keep_in_place = "yes"', None, "neither true nor false"),
    ('kind = "count"', 'kind = "number"', None, 'lifeboat.screws.kind: "number" is not known'),
    ('alternatives = ["none", "present"]', "alternatives = []", None, "hull.stamp.alternatives"),
]


@pytest.mark.parametrize(("old", "new", "line", "message"), BROKEN)
def test_a_fault_names_its_line_and_field(old, new, line, message):
    found = faults(TEXT.replace(old, new, 1))
    expected = line or line_of(TEXT, old)
    assert any(fault.startswith(f"my.toml:{expected}: ") and message in fault for fault in found), found


def test_all_faults_come_in_one_pass_in_the_order_of_the_lines():
    text = TEXT
    for old, new in (
        ("swap_rate = 0.05", "swap_rate = 5"),
        ("max = 22.0", "max = 12"),
        ("first = 5", 'first = "x"'),
    ):
        text = text.replace(old, new, 1)
    found = faults(text)
    assert len(found) == 3
    lines = [int(fault.split(":")[1]) for fault in found]
    assert lines == sorted(lines)
    assert all(re.fullmatch(r"my\.toml:\d+: \S+: .+, expected .+", fault) for fault in found)


def test_a_part_cannot_be_absent_by_one_feature_only():
    found = faults(TEXT.replace('third = "absent"', "third = { min = 150, max = 151 }", 1))
    assert '"third" has no separate part by one feature but values for width' in found[0]


@pytest.mark.parametrize(
    ("text", "line"),
    [('a = 1\nb = "open\n', 2), ("a = 1\n\na = 2\n", 3), ("[[part]\n", 1), ("a = 1\nb = [1,\n2\n", 3)],
)
def test_a_slip_of_toml_names_its_line(text, line):
    assert faults(text)[0].startswith(f"my.toml:{line}: TOML: ")


@pytest.mark.parametrize(
    "text", ["\n", "part = 3\nrelease = 4\n", "[part]\nid=1\n", "[[part]]\nfeature = [1]\n"]
)
def test_a_text_that_is_no_sheet_gives_faults(text):
    assert faults(text)


def test_inches_and_fractions_are_lengths():
    text = TEXT.replace("min = 176.0, max = 179.5", 'min = "6 15/16 in", max = "7 1/16 in"')
    assert read_sheet(text).parts[0].features[0].limits_mm("first") == pytest.approx((176.2125, 179.3875))


def test_a_sheet_in_inches_takes_bare_numbers_as_inches():
    text = TEXT.replace('unit = "mm"', 'unit = "in"').replace(
        "min = 176.0, max = 179.5", "min = 7, max = '7 1/2'"
    )
    assert read_sheet(text).parts[0].features[0].limits_mm("first") == pytest.approx((177.8, 190.5))


def test_shares_may_be_left_out_of_all_releases_alike():
    text = re.sub(r"^prior = .*$", "", TEXT, flags=re.MULTILINE)
    assert [release.prior for release in read_sheet(text).releases] == [0.25] * 4


def test_a_file_that_is_not_there_is_named(tmp_path):
    with pytest.raises(SheetError, match=r"no\.toml: cannot be read"):
        read_sheet(tmp_path / "no.toml")


def test_a_file_that_is_no_text_is_named(tmp_path):
    path = tmp_path / "photo.toml"
    path.write_bytes(b"\xff\xd8\xff\xe0")
    with pytest.raises(SheetError, match="not a text in UTF-8"):
        read_sheet(path)


def test_a_byte_order_mark_and_windows_lines_are_accepted(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_bytes(b"\xef\xbb\xbf" + TEXT.replace("\n", "\r\n").encode())
    assert read_sheet(path).key == "mine"


def test_windows_lines_keep_their_numbers(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_bytes(TEXT.replace("max = 22.0", "max = 2.0").replace("\n", "\r\n").encode())
    with pytest.raises(SheetError) as caught:
        read_sheet(path)
    assert caught.value.faults[0].line == line_of(TEXT, "max = 22.0")


def test_an_unknown_shipped_sheet_is_named():
    with pytest.raises(UnknownSheetError, match="saltmarsh-ferry"):
        shipped_sheet("no-such-toy")


values = st.one_of(
    st.booleans(), st.integers(-5, 5), st.floats(allow_nan=True), st.text(max_size=8),
    st.lists(st.integers(), max_size=2),
    st.dictionaries(st.text("abc", min_size=1, max_size=3), st.integers(), max_size=2),
)  # fmt: skip


def leaves(table, path=()):
    items = table.items() if isinstance(table, dict) else enumerate(table)
    for key, value in items:
        yield (*path, key)
        if isinstance(value, dict | list):
            yield from leaves(value, (*path, key))


PLACES = list(leaves(tomllib.loads(TEXT)))


@quick
@given(st.sampled_from(PLACES), values, st.booleans())
@pytest.mark.slow
def test_whatever_stands_in_a_field_there_is_a_sheet_or_faults(place, value, remove):
    table = tomllib.loads(TEXT)
    inner = table
    for key in place[:-1]:
        inner = inner[key]
    if remove:
        del inner[place[-1]]
    else:
        inner[place[-1]] = value
    try:
        text = tomlkit.dumps(table)
        tomllib.loads(text)
    except (ValueError, tomlkit.exceptions.TOMLKitError):
        return  # the writer refused it
    found = find_faults(text)
    assert all(1 <= fault.line <= text.count("\n") + 1 for fault in found)


@quick
@given(st.text(max_size=60))
def test_whatever_the_text_there_are_faults(text):
    with pytest.raises(SheetError):
        read_sheet(text + "\n")


HARD = '''
a = "x # no comment" # comment
b = """
many
lines "quoted" """
c = [
  1, # one
  { d = [ "]", '}' ] },
]
"quoted key".'other' = 'x'
[e."f.g"]
h = 2020-01-01T00:00:00Z
[[list]]
k = {}
[[list.inner]]
k = 1
[[list.inner]]
k = 2
[[list]]
k = []
[list.table]
k = true
'''


def test_lines_are_right_in_hard_toml():
    lines = line_numbers(HARD)
    expected = {
        ("a",): 2, ("b",): 3, ("c",): 6, ("c", 1): 8, ("c", 1, "d"): 8, ("c", 1, "d", 1): 8,
        ("quoted key", "other"): 10,
        ("e", "f.g", "h"): 12, ("list", 0, "k"): 14, ("list", 0, "inner", 1, "k"): 18, ("list", 1, "k"): 20,
        ("list", 1, "table", "k"): 22,
    }  # fmt: skip
    assert {path: lines[path] for path in expected} == expected
    assert nearest_line(lines, ("list", 1, "missing")) == 19


def test_every_value_of_the_shipped_sheet_is_on_a_line_that_shows_it():
    lines = line_numbers(TEXT)
    rows = TEXT.splitlines()
    for path in PLACES:
        if isinstance(path[-1], str) and path in lines and path[-1] not in {"part", "release", "feature"}:
            assert str(path[-1]) in rows[lines[path] - 1]
    assert {path for path in PLACES if isinstance(path[-1], str)} <= set(lines)


def test_a_sheet_is_named_by_its_key_or_by_a_path_from_a_folder(tmp_path):
    (tmp_path / "mine.toml").write_text(TEXT, "utf-8")
    assert named_sheet("saltmarsh-ferry", tmp_path).key == "saltmarsh-ferry"
    assert named_sheet("mine.toml", tmp_path).key == "mine"
    assert named_sheet("../mine.toml", tmp_path / "no-such-folder").key == "mine"
    assert named_text("mine.toml", tmp_path) == TEXT == named_text("saltmarsh-ferry")
