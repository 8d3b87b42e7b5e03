"""Code books as files: every kind of wrong row named with its line, nothing missed however many there are."""

import pytest

from vehicles.code_table import LISTED_FAULTS, BookFacts, Findings, check_book, plain_code
from vehicles.csv_text import BadFile
from vehicles.keys import KeySystem

SYSTEM = KeySystem(
    name="Alder",
    positions_mm=[3, 5, 7, 9],
    root_depths_mm={"1": 8, "2": "7.5", "3": 7, "4": "6.5"},
    macs=2,
    rules=[{"rule": "max_equal_run", "n": 3}],
)
LONG = KeySystem(name="Long", positions_mm=[3, 5], root_depths_mm={"1": 8, "2": 7, "10": 6})


def check(text: str, facts: BookFacts | None = None, system: KeySystem = SYSTEM) -> Findings:
    return check_book(text.encode(), system, facts or BookFacts())


@pytest.mark.parametrize(
    "text",
    [
        "code,bitting\nA1,1231\nA2,1 2 3 2\n",
        "\ufeffCode;Bitting\r\nA1;1231\r\nA2;1-2-3-2\r\n",
        'Key code\tCuts\nA1\t"1,2,3,1"\nA2\t1.2.3.2\n',
        "number,cut 1,cut 2,cut 3,cut 4,code\n7,1,2,3,1,A1\n8,1,2,3,2,A2\n",
        'code,note,1,2,3,4\n"a 1","good, bought",1,2,3,1\na-2,,1,2,3,2\n\n',
    ],
)
def test_a_book_is_read_however_it_is_written(text: str) -> None:
    found = check(text)
    assert (found.good, found.wrong) == (2, 0)
    assert found.rows == [("A1", tuple("1231")), ("A2", tuple("1232"))]
    assert (found.first, found.last) == ("A1", "A2")


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("A9,1291", "no depth 9"),
        ("A9,123", "3 cuts are too few"),
        ("A9,12312", "5 cuts are too many"),
        ("A9,1?31", "no unknown cuts"),
        ("A9,1421", "MACS allows 2"),
        ("A9,1111", "3"),
        ("A9,", "cuts are missing"),
        (",1231", "code is missing"),
        ("A9,1231,extra", "More cells"),
        ("A1,1232", "already stands in line 2 with other cuts"),
        ("A12345678901234567890123,1231", "longer than the 20"),
    ],
)
def test_a_wrong_row_is_named_with_its_line(row: str, words: str) -> None:
    found = check(f"code,bitting\nA1,1231\n{row}\nA3,1232\n")
    assert (found.good, found.wrong) == (2, 1)
    ((line, told),) = found.faults
    assert line == 3
    assert words in told


def test_a_quoted_line_break_does_not_shift_the_lines_named() -> None:
    found = check('code,note,bitting\nA1,"two\nlines",1231\nA2,,9999\n')
    assert found.faults[0][0] == 4


def test_the_same_row_twice_counts_once_and_is_told() -> None:
    found = check("code,bitting\nA1,1231\na 1,1 2 3 1\n")
    assert (found.good, found.repeated, found.wrong) == (1, 1, 0)


def test_codes_outside_the_form_and_the_range_are_wrong() -> None:
    facts = BookFacts("A##", "A10", "A20")
    found = check("code,bitting\nA10,1231\nA09,1231\nA21,1231\nB15,1231\nA1,1231\nA20,1231\n", facts)
    assert found.good == 2
    assert [line for line, _ in found.faults] == [3, 4, 5, 6]


def test_labels_of_two_signs_need_to_be_parted() -> None:
    assert check("code,bitting\nA1,10 2\nA2,2-10\n", system=LONG).good == 2
    assert "no depth 102" in check("code,bitting\nA1,102\n", system=LONG).faults[0][1]


def test_200_000_wrong_rows_are_all_counted_and_the_first_listed() -> None:
    text = "code,bitting\n" + "".join(f"A{number},9999\n" for number in range(200_000))
    found = check(text)
    assert (found.good, found.wrong) == (0, 200_000)
    assert len(found.faults) == LISTED_FAULTS
    assert found.faults[0][0] == 2


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"bitting\n1231\n", "no column called code"),
        (b"code,name\nA1,x\n", "no column called bitting"),
        (b"code,cut 1,cut 2\nA1,1,2\n", "has cuts 1 to 4"),
        (b"code,code,bitting\nA1,A1,1231\n", "stands twice"),
        ("code,bitting\nÜ1,1231\n".encode("cp1252"), "Line 2: the file is not in UTF-8"),
        (b"\xff\xfec\x00o", "says it is UTF-16 but is not"),
        (b"\x00\x01\x02", "not text"),
    ],
)
def test_a_file_that_is_no_book_is_refused_in_words(data: bytes, words: str) -> None:
    with pytest.raises(BadFile, match=words):
        check_book(data, SYSTEM, BookFacts())


def test_a_file_in_utf_16_with_its_mark_is_read() -> None:
    # What spreadsheets call "Unicode text".
    assert check_book("code\tbitting\nA1\t1231\n".encode("utf-16"), SYSTEM, BookFacts()).good == 1


def test_progress_rises_to_the_end() -> None:
    shares: list[float] = []
    text = "code,bitting\n" + "".join(f"A{number},1231\n" for number in range(5_000))
    check_book(text.encode(), SYSTEM, BookFacts(), shares.append)
    assert shares == sorted(shares)
    assert len(shares) == 3


@pytest.mark.parametrize("text", ["al 0012", "AL-0012", "al0012", " AL.00/12 "])
def test_a_code_is_found_however_it_is_typed(text: str) -> None:
    assert plain_code(text) == "AL0012"
