"""Whatever a sheet or a finding holds, its numbers stay within bounds and its verdict is made of numbers."""

import os
import socket
from dataclasses import replace
from pathlib import Path

import pytest

from references import Finding, judge, read_sheet, shipped_text
from references.errors import FindingError, SheetError, UnreadableError, VerdictError
from references.inference.options import DEFAULT_OPTIONS
from references.limits import DEEPEST, LARGEST_COUNT, LONGEST_MM, MOST_EXAMPLES, MOST_TABLES, number_of
from references.release_sheet.reading import find_faults
from references.release_sheet.values import Counts, Normal, Range
from references.text_files import read_text_file
from tests.references.making import count, dimension, length, sheet

TEXT = shipped_text("saltmarsh-ferry")
WIDTH = "first = { min = 176.0, max = 179.5, n = 6"


def with_width(value):
    assert TEXT.count(WIDTH) == 1
    return TEXT.replace(WIDTH, f"first = {{ {value}")


@pytest.mark.parametrize(
    ("value", "field"),
    [
        ("min = 176.0, max = 1e308", "first.max"),
        ("min = 176.0, max = 100001", "first.max"),
        ("min = 176.0, max = inf", "first.max"),
        ("min = 176.0, max = nan", "first.max"),
        (f"min = 176.0, max = {'9' * 400}", "first.max"),
        (f'min = 176.0, max = "{"9" * 400} mm"', "first.max"),
        (f'min = 176.0, max = "{"1 ft " * 1500}1 in"', "first.max"),
        ('min = 176.0, max = "1 ft 1 ft 1 in"', "first.max"),
        ("min = 0, max = 1e-300", "first.max"),
        ("min = 176.0, max = 179.5, n = 100000000000000000000", "first.n"),
        (f"min = 176.0, max = 179.5, n = {'9' * 400}", "first.n"),
        ("mean = 176.0, sd = 1e-300", "first.sd"),
        ("mean = 1e308, sd = 1", "first.mean"),
    ],
)
def test_a_length_that_no_toy_has_is_one_fault_of_its_field(value, field):
    (fault,) = find_faults(with_width(value))
    assert fault.field == f"bow-plate.width.by_release.{field}"
    assert len(fault.text("my.toml")) < 300


@pytest.mark.parametrize("value", ["10000000", "100000000000000000000", "9" * 400, '{ "99999" = 1.0 }'])
def test_a_count_that_no_toy_has_is_a_fault(value):
    (fault,) = find_faults(TEXT.replace("first = 5", f"first = {value}"))
    assert fault.field == "lifeboat.screws.by_release.first"
    assert str(LARGEST_COUNT) in fault.expected


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("a" + ".a" * 100_000 + " = 1\n", "nested too deeply"),
        ("[" + "a." * 100_000 + "a]\n", "nested too deeply"),
        ("a = " + "[" * 100_000 + "]" * 100_000 + "\n", "nested too deeply"),
        ("a = " + "{ b = " * 500 + "1" + " }" * 500 + "\n", "nested too deeply"),
        (f"a = {'9' * 5000}\n", "digits"),
        ("#" * 2**20 + "\n\n", "larger than 1 MB"),
    ],
    ids=["keys with dots", "header with dots", "arrays", "tables", "digits", "size"],
)
def test_a_text_made_to_choke_a_parser_is_refused_before_it_is_parsed(text, said):
    (fault,) = find_faults(text)
    assert said in fault.problem


def test_brackets_and_dots_in_texts_and_comments_nest_nothing():
    odd = "[" * 2 * DEEPEST + "a." * 2 * DEEPEST
    text = TEXT.replace('how = "', f'# {odd}\nhow = "{odd} \\" ', 1)
    shares = ", ".join(f"{n} = {1 / 100}" for n in range(3 * DEEPEST // 2, 3 * DEEPEST // 2 + 100))
    text = text.replace("first = 5", f"first = {{ {shares} }}")
    text = f"# {odd}\nnote = '''\n{odd}'''\n{text}"
    assert find_faults(text) == ()


def test_more_tables_than_a_verdict_can_weigh_are_a_fault():
    more = "".join(
        f'[[release]]\nid = "more-{n}"\nname = "More"\nprior = 0.0\n' for n in range(MOST_TABLES["release"])
    )
    assert any("too many" in fault.problem for fault in find_faults(TEXT + more))


def test_what_a_fault_quotes_is_short_and_on_one_line():
    faults = find_faults(TEXT.replace('unit = "mm"', 'unit = """m\nm' + "m" * 9000 + '"""'))
    lines = [fault.text("my.toml") for fault in faults]
    assert lines
    assert all(len(line) < 900 and "\n" not in line for line in lines)


@pytest.mark.parametrize("make", [
    lambda: Range(1.0, 2.0, MOST_EXAMPLES + 1), lambda: Range(1.0, 2.0, 1), lambda: Normal(1.0, 2.0, 10**20),
    lambda: Counts({LARGEST_COUNT + 1: 1.0}), lambda: Counts({-1: 1.0}),
])  # fmt: skip
def test_a_value_refuses_the_impossible(make):
    with pytest.raises(ValueError, match=r"examples|count"):
        make()


@pytest.mark.parametrize(
    "value", [float("nan"), float("inf"), -float("inf"), 10**400, -(10**400), True, "1", None, [1]]
)
def test_what_is_no_finite_number_is_none(value):
    assert number_of(value) is None


PLATE = sheet({"plate": [dimension("width", a=Range(10.0, 12.0), b=Range(20.0, 22.0))],
               "boat": [count("screws", a=Counts({4: 1.0}), b=Counts({5: 1.0}))]},
              {"a": 0.5, "b": 0.5})  # fmt: skip


@pytest.mark.parametrize(
    "finding",
    [
        Finding("plate", "width", 10**400, 1.0),
        Finding("plate", "width", LONGEST_MM * 2, 1.0),
        Finding("plate", "width", float("nan"), 1.0),
        Finding("plate", "width", 11.0, 1e-300),
        Finding("plate", "width", 11.0, 1e308),
        Finding("plate", "width", 11.0, float("nan")),
        Finding("boat", "screws", float("inf")),
        Finding("boat", "screws", float("nan")),
        Finding("boat", "screws", 10**20),
        Finding("boat", "screws", "9" * 9000),
    ],
    ids=str,
)
def test_a_finding_beyond_any_toy_is_refused_in_one_line(finding):
    with pytest.raises(FindingError) as caught:
        judge(PLATE, [finding])
    assert len(str(caught.value)) < 200


def test_more_findings_on_one_feature_than_can_be_weighed_are_refused():
    with pytest.raises(FindingError, match="51 findings; at most 50"):
        judge(PLATE, [length("plate", "width", 11.0, 0.1, 0.05, f"p{n}") for n in range(51)])


@pytest.mark.filterwarnings("ignore::RuntimeWarning")
def test_probabilities_that_are_not_numbers_are_an_error_and_never_a_name():
    options = replace(DEFAULT_OPTIONS, gross_error_rate=float("nan"))
    with pytest.raises(VerdictError, match="not numbers"):
        judge(PLATE, [length("plate", "width", 11.0, 0.1, 0.0, None)], options=options)


def test_counts_far_apart_are_weighed_as_counts_near_each_other_are():
    """What lies between them is one outcome: neither memory nor time grow with the gap."""

    def gains(other):
        made = sheet(
            {"boat": [count("screws", a=Counts({4: 1.0}), b=Counts({other: 1.0}))]}, {"a": 0.5, "b": 0.5}
        )
        (check,) = judge(made, []).next_checks
        verdict = judge(made, [Finding("boat", "screws", 4)])
        return check.expected_gain_bits, verdict.posterior["a"]

    near, far = gains(60), gains(LARGEST_COUNT)
    assert far == pytest.approx(near, abs=0.02)
    assert far[1] > 0.9


def test_a_file_is_read_as_text(tmp_path):
    path = tmp_path / "a.txt"
    path.write_bytes(b"\xef\xbb\xbfa\nb")
    assert read_text_file(path, 10) == "a\nb"


def pipe(folder):
    os.mkfifo(folder / "pipe")
    return folder / "pipe"


def bound_socket(folder):
    with socket.socket(socket.AF_UNIX) as made:
        made.bind(str(folder / "s"))
    return folder / "s"


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
@pytest.mark.parametrize("make", [pipe, bound_socket, lambda folder: folder, lambda folder: folder / "none"])
def test_what_is_no_file_is_refused_and_at_once(tmp_path, make, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(UnreadableError):
        read_text_file(make(tmp_path), 10)


def test_a_file_that_says_it_is_empty_but_has_no_end_is_read_to_the_bound(tmp_path):
    path = tmp_path / "large"
    path.write_bytes(b"a" * (2**20 + 1))
    assert len(read_text_file(path, 2**20 + 1)) == 2**20 + 1
    with pytest.raises(UnreadableError, match="larger than 1 MB"):
        read_text_file(path, 2**20)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
@pytest.mark.parametrize("device", ["pipe", "/dev/zero", "."])
def test_a_pipe_a_device_or_a_folder_is_no_sheet(tmp_path, device):
    path = pipe(tmp_path) if device == "pipe" else Path(device)
    with pytest.raises(SheetError, match="cannot be read"):
        read_sheet(path)
