"""Limits as data: bands, marks, and the shop's own values."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.errors import InputError
from analyzer.process.burr import slow_fraction
from analyzer.process.gas import GASES
from analyzer.process.material import CUTTABLE
from analyzer.rules.explain import explain
from analyzer.rules.limits import Limits, Row, load_limits
from analyzer.rules.registry import RULES

BANDED = ("hole-too-small", "slot-too-narrow", "kerf-fills-feature", "web-too-thin")


@given(
    st.sampled_from(BANDED), st.sampled_from(GASES), st.sampled_from(CUTTABLE),
    st.floats(0.5, 32.0),
)  # fmt: skip
def test_every_gas_material_and_thickness_has_a_limit(
    rule: str, gas: str, material: str, t: float
) -> None:
    row = load_limits().at(rule, gas, material, t)
    assert row is not None
    assert 0.0 < row["last"] <= row["ok"]
    assert "no source" in row.source


def test_shop_rule_of_hole_diameters() -> None:
    """d / t, ok / not advisable, by gas, material and band: common practice, no source."""
    wanted = {
        ("oxygen", "mild-steel"): [(1.0, 0.5), (1.0, 0.5), (1.0, 0.6), (1.2, 0.7)],
        ("nitrogen", "mild-steel"): [(0.6, 0.35), (0.7, 0.4), (1.0, 0.5), (1.3, 0.7)],
        ("mixed", "mild-steel"): [(0.5, 0.3), (0.5, 0.35), (0.6, 0.4), (0.8, 0.5)],
        ("nitrogen", "stainless"): [(0.5, 0.3), (0.6, 0.4), (0.8, 0.5), (1.0, 0.6)],
        ("mixed", "stainless"): [(0.5, 0.3), (0.5, 0.35), (0.7, 0.45), (0.9, 0.55)],
        ("nitrogen", "aluminium"): [(0.6, 0.4), (0.8, 0.5), (1.0, 0.6), (1.2, 0.8)],
        ("mixed", "aluminium"): [(0.5, 0.35), (0.6, 0.4), (0.8, 0.5), (1.0, 0.6)],
        ("air", "aluminium"): [(0.5, 0.35), (0.6, 0.4), (0.8, 0.5), (1.0, 0.6)],
    }
    limits = load_limits()
    for (gas, material), bands in wanted.items():
        for tops, (ok, last) in zip(
            ((1, 3), (3.01, 6), (6.01, 12), (12.01, 25)), bands, strict=True
        ):
            for t in tops:
                row = limits.at("hole-too-small", gas, material, t)
                assert row is not None
                assert (row["ok"], row["last"]) == (ok, last), (gas, material, t)


def test_slow_corners_and_burr_go_by_the_same_fractions() -> None:
    limits = load_limits()
    for t in (1, 3, 3.5, 6, 7, 12, 13, 25):
        for gas in GASES:
            row = limits.at("corner-slows", gas, "mild-steel", t)
            assert (row["ok"] if row else 0.0) == slow_fraction(gas, t)


def test_own_limits_by_gas_and_band() -> None:
    own = load_limits(
        {
            "hole-too-small": {
                "oxygen": [
                    {"above": 12, "up_to": 20, "last": 0.55},
                    {"material": "stainless", "ok": 2},
                ],
                "kerfs_ok": 4,
            }
        }
    )

    def row(t: float, material: str = "mild-steel") -> tuple[float, float, bool]:
        found = own.at("hole-too-small", "oxygen", material, t)
        assert found is not None
        return found["ok"], found["last"], found.own

    assert row(15.0) == (1.2, 0.55, True)  # ok comes from beneath
    assert row(12.0) == (1.0, 0.6, False)
    assert row(20.01) == (1.2, 0.7, False)
    assert row(5.0, "stainless") == (2.0, 0.5, True)
    assert own.constant("hole-too-small", "kerfs_ok") == 4.0
    assert load_limits().constant("hole-too-small", "kerfs_ok") == 5.0
    assert any(line.source == "your shop file" for line in explain("hole-too-small", own).limits)


@pytest.mark.parametrize("gas", GASES)
def test_an_own_limit_of_one_gas_is_no_other_s(gas: str) -> None:
    starter, own = load_limits(), load_limits({"hole-too-small": {gas: {"ok": 0.91}}})
    for other in GASES:
        row, before = (
            limits.at("hole-too-small", other, "mild-steel", 8.0) for limits in (own, starter)
        )
        assert row is not None
        assert (row["ok"] == 0.91 and row.own) if other == gas else row == before


def test_an_own_limit_holds_where_we_say_nothing() -> None:
    """Slow corners are judged nowhere in thin nitrogen: an own row brings its values alone."""
    assert load_limits().at("corner-slows", "nitrogen", "mild-steel", 2.0) is None
    own = load_limits({"corner-slows": {"nitrogen": {"ok": 0.2}}})
    row = own.at("corner-slows", "nitrogen", "mild-steel", 2.0)
    assert row is not None
    assert row.values == (("ok", 0.2),)


def test_own_ok_below_the_starter_last_moves_both() -> None:
    own = load_limits({"web-too-thin": {"all": {"ok": 0.1}}})
    row = own.at("web-too-thin", "oxygen", "mild-steel", 10.0)
    assert row is not None
    assert (row["ok"], row["last"]) == (0.1, 0.1)


@pytest.mark.parametrize(
    ("override", "says"),
    [
        ({"hole-to-small": {}}, "did you mean hole-too-small?"),
        ({"hole-too-small": {"nitrgen": {"ok": 1}}}, "did you mean nitrogen?"),
        ({"hole-too-small": {"nitrogen": {"oK": 1}}}, "did you mean ok?"),
        ({"hole-too-small": {"nitrogen": {"ok": "1"}}}, "'1' is not a number from 0 up"),
        ({"hole-too-small": {"nitrogen": {"ok": -1}}}, "-1 is not a number"),
        ({"hole-too-small": {"nitrogen": {"ok": float("nan")}}}, "nan is not a number"),
        ({"hole-too-small": {"nitrogen": {"ok": True}}}, "True is not a number"),
        ({"hole-too-small": {"nitrogen": {"ok": 0.5, "last": 0.6}}}, "last = 0.6 is above ok"),
        ({"hole-too-small": {"nitrogen": {"above": 3}}}, "no limit is given"),
        ({"hole-too-small": {"nitrogen": {"ok": 1, "material": "brass"}}}, "is not a material"),
        ({"hole-too-small": {"nitrogen": 3}}, "3 is not a table of limits"),
        ({"hole-too-small": 3}, "3 is not a table of limits"),
        ({"hole-too-small": {"kerfs_okay": 3}}, "did you mean kerfs_ok?"),
        ({"no-room-for-lead-in": {"nitrogen": {"ok": 1}}}, "is not a limit of this rule"),
    ],
)
def test_wrong_overrides_are_refused_in_words(override: dict[str, object], says: str) -> None:
    with pytest.raises(InputError) as error:
        load_limits(override)
    assert says in str(error.value)
    assert "limits" in error.value.where


def test_limits_belong_to_rules_and_are_marked() -> None:
    limits: Limits = load_limits()
    assert set(limits.rules) <= {rule.name for rule in RULES}
    for name in limits.rules:
        told = explain(name)
        assert told.unit
        assert told.measured
        assert all(line.source for line in (*told.limits, *told.constants))


def test_copper_from_own_rows_takes_the_limits_of_aluminium() -> None:
    limits = load_limits()
    assert limits.at("hole-too-small", "nitrogen", "copper", 2.0) == limits.at(
        "hole-too-small", "nitrogen", "aluminium", 2.0
    )


def test_each_end_of_a_band_belongs_to_one_side() -> None:
    own = load_limits(
        {"hole-too-small": {"oxygen": [{"from": 3, "below": 6, "ok": 7}, {"above": 8, "ok": 9}]}}
    )

    def ok(thickness: float) -> float:
        found = own.at("hole-too-small", "oxygen", "mild-steel", thickness)
        assert found is not None
        return found["ok"]

    starter = ok(1.0)
    assert [ok(t) for t in (2.99, 3.0, 4.5, 5.99, 6.0)] == [starter, 7.0, 7.0, 7.0, starter]
    assert [ok(t) for t in (7.99, 8.0, 8.01)] == [starter, starter, 9.0]
    bands = [row.band for row in own.rules["hole-too-small"].rows[:2]]
    assert bands == ["from 3 below 6 mm", "above 8 mm"]
    assert Row(GASES, None, (), (), "").band == "every thickness"


def test_own_values_are_marked_as_own_one_by_one() -> None:
    own = load_limits(
        {"hole-too-small": {"kerfs_ok": 4, "nitrogen": {"ok": 0.9, "last": 0.9}, "all": {"ok": 0}}}
    )
    rule = own.rules["hole-too-small"]
    assert rule.constants["kerfs_ok"].own
    assert not any(c.own for name, c in rule.constants.items() if name != "kerfs_ok")
    assert [(row.gases, row["ok"]) for row in rule.rows if row.own] == [
        (("nitrogen",), 0.9),
        (GASES, 0.0),
    ]
    assert not any(row.own for row in load_limits().rules["hole-too-small"].rows)


def test_a_hole_near_a_bend_is_never_called_lost() -> None:
    """Its last limit is that of rework (common practice, no source), and `explain` says so."""
    (line,) = explain("hole-near-bend").limits
    assert line.values == (("clean from", 2.0), ("rework below", 1.5))
