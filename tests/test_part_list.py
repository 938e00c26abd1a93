"""Part lists: what a row means, and that a bad one stops only itself."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyzer.errors import InputError
from analyzer.orders import MOST_ROWS, BadLine, Given
from analyzer.part_list import TURNS, Wanted, is_list, read_part_list
from analyzer.shop import Shop

TEN = Given("mild-steel", 10.0, 10.0)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with files called a.dxf and in/b.dxf; only their names count here."""
    root = tmp_path_factory.mktemp("lists")
    (root / "in").mkdir()
    for name in ("a.dxf", "in/b.dxf", "odd#2.dxf"):
        (root / name).write_text("", encoding="utf-8")
    return root


def read(
    folder: Path, text: str, name: str = "list.csv", told: Given = TEN
) -> tuple[tuple[Wanted, ...], tuple[BadLine, ...]]:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return read_part_list(path, told, Shop())


def test_a_table_of_an_office_program_is_asked_for_as_csv() -> None:
    assert is_list(Path("order.CSV"))
    assert not is_list(Path("order.dxf"))
    for name in ("order.xlsx", "order.ODS", "order.tsv"):
        with pytest.raises(InputError, match="is not read") as refused:
            is_list(Path(name))
        assert "save it as CSV, UTF-8" in str(refused.value)


def test_a_row_says_drawing_quantity_and_how_it_may_lie(folder: Path) -> None:
    rows, bad = read(
        folder,
        "drawing,quantity,material,thickness,plate,next,turns,mirror,priority\n"
        "a.dxf,3,S355,0.375in,Rusty,WELD,180,yes,2\n"  # capitals as on the command line
        "in/b.dxf,1,,,,,,,\n",
    )
    assert not bad
    one, two = rows
    assert (one.quantity, one.turns, one.mirror, one.priority) == (3, (0.0, 180.0), True, 2)
    assert one.job.thickness_mm == pytest.approx(9.525)  # 0.375 x 25.4
    assert (one.job.material, one.job.plate, one.job.next_step) == ("mild-steel", "rusty", "weld")
    assert (two.job.thickness_mm, two.turns, two.mirror) == (10.0, TURNS["90"], False)
    assert two.path == folder / "in" / "b.dxf"  # from the list, not from where we are


def test_semicolons_allow_a_comma_as_decimal_sign(folder: Path) -> None:
    (row,), bad = read(folder, "drawing;quantity;thickness\na.dxf;2;1,5\n")
    assert not bad
    assert row.job.thickness_mm == 1.5


@pytest.mark.parametrize("sign", [",", ";", "\t"])
@pytest.mark.parametrize("first", ["", "sep={}\n", '"sep={}"\r\n', "# a remark; with, signs\n"])
def test_what_parts_the_cells_is_seen_in_the_header(folder: Path, first: str, sign: str) -> None:
    """Spreadsheets paste tabs and write "sep=;" first; lines are counted as an editor does."""
    text = first.format(sign) + "drawing,quantity\na.dxf,3\na.dxf,none\n".replace(",", sign)
    (row,), (bad,) = read(folder, text)
    assert (row.quantity, row.line) == (3, 2 + bool(first))
    assert (bad.line, bad.reason.split(" (")[0]) == (
        3 + bool(first), "column quantity: 'none' is not a number"
    )  # fmt: skip


@pytest.mark.parametrize(
    ("cells", "says"),
    [
        ("a.dxf,0,,", "0 cannot be meant"),
        ("a.dxf,-3,,", "-3 cannot be meant"),
        ("a.dxf,2.5,,", "not a whole number"),
        ("a.dxf,many,,", "not a number"),
        ("a.dxf,,,", "quantity is empty"),
        ("gone.dxf,1,,", "no drawing gone.dxf"),
        ("a.dxf,1,unobtainium,", "not known"),
        ("a.dxf,1,titanium,", "refused"),
        ("a.dxf,1,,45", "turns '45' is not known"),
    ],
)
def test_a_bad_row_is_refused_with_its_line_and_the_rest_goes_on(
    folder: Path, cells: str, says: str
) -> None:
    rows, bad = read(folder, f"drawing,quantity,material,turns\na.dxf,1,,\n{cells}\na.dxf,2,,\n")
    assert [row.quantity for row in rows] == [1, 2]
    assert [(row.line, says in row.reason) for row in bad] == [(3, True)]


def test_the_second_part_of_a_drawing_is_asked_for_behind_a_hash(folder: Path) -> None:
    rows, bad = read(folder, "drawing,quantity\na.dxf#2,1\nodd#2.dxf,1\n")
    assert not bad
    assert [(row.name, row.path.name, row.which) for row in rows] == [
        ("a.dxf#2", "a.dxf", 2),
        ("odd#2.dxf", "odd#2.dxf", None),  # a file may be called so
    ]


@pytest.mark.parametrize(
    ("name", "text", "says"),
    [
        ("list.csv", "", "empty"),
        ("list.csv", "drawing,quantity\n", "no row"),
        ("list.csv", "drawing,amount\na.dxf,1\n", "'amount' is not known"),
        ("list.csv", "quantity\n1\n", "no column drawing"),
        ("list.toml", "[[part]\n", "not valid TOML"),
        ("list.toml", "part = 3\n", "part"),
        ("list.toml", "part = " + "[" * 5000 + "]" * 5000, "lists within lists"),
        ("list.toml", "material = 'S355'\n", "no row"),
        ("list.toml", "parts = []\n", "did you mean part?"),
    ],
)
def test_a_list_that_cannot_be_read_is_one_message(
    folder: Path, name: str, text: str, says: str
) -> None:
    with pytest.raises(InputError) as caught:
        read(folder, text, name)
    assert says in str(caught.value)
    assert name in str(caught.value)


def test_toml_fills_every_part_with_what_stands_before_them(folder: Path) -> None:
    rows, bad = read(
        folder,
        'thickness = "10mm"\nturns = "free"\n\n[[part]]\ndrawing = "a.dxf"\nquantity = 4\n\n'
        '[[part]]\ndrawing = "in/b.dxf"\nquantity = 1\nthickness_mm = 3\nmirror = true\n\n'
        '[[part]]\ndrawing = "a.dxf"\nquantity = 0\n\n[[part]]\ndrawing = "a.dxf"\nturn = 1\n',
        "list.toml",
    )
    assert [(r.quantity, r.job.thickness_mm, r.turns, r.mirror) for r in rows] == [
        (4, 10.0, None, False),
        (1, 3.0, None, True),
    ]
    assert [row.line for row in bad] == [14, 18]
    assert "did you mean turns?" in bad[1].reason


@settings(max_examples=30, deadline=None)
@given(
    rows=st.lists(
        st.tuples(
            st.sampled_from(("a.dxf", "in/b.dxf", "a.dxf#2")), st.integers(-2, 40),
            st.sampled_from(("", "0.5mm", "10", "0.25in")), st.sampled_from(("", *TURNS, "7")),
            st.sampled_from(("", "yes", "no", "perhaps")),
        ),
        min_size=1, max_size=6,
    )
)  # fmt: skip
def test_csv_and_toml_say_the_same(
    folder: Path, rows: list[tuple[str, int, str, str, str]]
) -> None:
    """Both spellings of one list have the same good rows, and as many bad ones."""
    names = ("drawing", "quantity", "thickness", "turns", "mirror")
    table = "\n".join(",".join(map(str, row)) for row in rows)
    parts = "\n".join(
        "[[part]]\n" + "\n".join(
            f"{name} = {value!r}" for name, value in zip(names, row, strict=True) if value != ""
        ) for row in rows
    )  # fmt: skip
    as_csv = read(folder, f"{','.join(names)}\n{table}\n")
    as_toml = read(folder, parts + "\n", "list.toml")

    def plain(found: tuple[Wanted, ...]) -> list[tuple[object, ...]]:
        return [(w.name, w.which, w.quantity, w.job, w.turns, w.mirror) for w in found]

    assert plain(as_csv[0]) == plain(as_toml[0])
    assert len(as_csv[1]) == len(as_toml[1]) == len(rows) - len(as_csv[0])


# --- lists that are refused as a whole, whatever their form ---------------------------------


@pytest.mark.parametrize("name", ["list.csv", "list.toml"])
def test_a_list_that_is_no_text_or_too_large_or_none_is_refused(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    with pytest.raises(InputError, match="the list cannot be read"):
        read_part_list(path, TEN, Shop())
    path.write_bytes("drawing,quantity\nhülse.dxf,1\n".encode("cp1252"))
    with pytest.raises(InputError, match="not UTF-8 text") as caught:
        read_part_list(path, TEN, Shop())
    assert "save it as UTF-8" in str(caught.value)
    with path.open("wb") as file:
        file.truncate(5_000_001)  # no bytes are written
    with pytest.raises(InputError, match="a list over the limit of 5,000,000 bytes"):
        read_part_list(path, TEN, Shop())


def test_more_rows_than_a_list_may_have_are_refused(folder: Path) -> None:
    with pytest.raises(InputError, match="more than 20,000 rows"):
        read(folder, "drawing,quantity\n" + "a.dxf,1\n" * (MOST_ROWS + 1))
    with pytest.raises(InputError, match="more than 20,000 rows"):
        read(folder, "part = [" + "{}," * (MOST_ROWS + 1) + "]", "list.toml")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("drawing,quantity,quantity\na.dxf,1,2\n", "two columns 'quantity'"),
        (f"drawing,quantity\n{'a' * 200_000}.dxf,1\n", "not a CSV list"),
    ],
)
def test_a_header_or_form_that_cannot_be_meant_is_refused(
    folder: Path, text: str, says: str
) -> None:
    with pytest.raises(InputError, match=says):
        read(folder, text)


def test_empty_lines_and_comments_are_no_rows(folder: Path) -> None:
    rows, bad = read(folder, "# ours\n\ndrawing,quantity\n , \n# later\na.dxf,2\n")
    assert not bad
    assert [row.quantity for row in rows] == [2]


@pytest.mark.parametrize(
    ("head", "cells", "says"),
    [
        ("drawing,quantity", "a.dxf,1,5", "3 cells for 2 columns"),
        ("drawing,quantity,thickness,thickness_mm", "a.dxf,1,5mm,5", "say the same thing"),
        ("drawing,quantity,plate", "a.dxf,1,rust", "did you mean rusty"),
        ("drawing,quantity,plate", "a.dxf,1,green", "use one of clean"),
    ],
)
def test_what_a_row_contradicts_is_said(folder: Path, head: str, cells: str, says: str) -> None:
    rows, (bad,) = read(folder, f"{head}\n{cells}\n")
    assert not rows
    assert bad.line == 2
    assert says in bad.reason


def test_everything_a_row_lacks_is_named_with_where_to_say_it(folder: Path) -> None:
    _, (bad,) = read(folder, "drawing,quantity\na.dxf,2\n", told=Given())
    assert "no material and no thickness_mm and no power" in bad.reason
    assert "in the list, as an option or in the shop file" in bad.reason
    _, (bad,) = read(folder, "drawing,quantity\na.dxf,2\n", told=Given("mild-steel", 5.0))
    assert "no power" in bad.reason
    assert "in the list" not in bad.reason  # a list has no column for the laser


def test_a_toml_part_without_quantity_is_left_out(folder: Path) -> None:
    rows, (bad,) = read(folder, "[[part]]\ndrawing = 'a.dxf'\n", "list.toml")
    assert not rows
    assert "quantity is empty" in bad.reason


def test_a_row_with_a_list_where_one_word_belongs_is_left_out(folder: Path) -> None:
    part = "[[part]]\ndrawing = 'a.dxf'\nquantity = 2\nplate = ['rusty']\n"
    rows, (bad,) = read(folder, part, "list.toml")
    assert not rows
    assert "plate = ['rusty'] cannot be meant" in bad.reason
