import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.script.quantities import UNITS, parse


def test_units_convert_as_the_standards_define_them() -> None:
    # The international knot, foot and pound are exact by definition (BIPM SI Brochure, 8th ed.,
    # tables 8 and 9, from memory); horsepower is 550 ft lbf/s.
    assert parse("speed", "1 kt") == pytest.approx(1852 / 3600)
    assert parse("length", "1 ft") == pytest.approx(0.3048)
    assert parse("mass", "1 lb") == pytest.approx(0.45359237)
    assert parse("power", "1 hp") == pytest.approx(745.7, abs=0.01)
    assert parse("share", "65 %") == pytest.approx(0.65)


def test_a_quantity_may_be_written_as_the_coach_prints_it() -> None:
    assert parse("length", "3,000 ft") == pytest.approx(parse("length", "3000 ft"))
    assert parse("angle", "30°") == pytest.approx(parse("angle", "30 deg"))
    with pytest.raises(ValueError, match="expected a length"):
        parse("length", "3,00 ft")


@given(
    st.sampled_from(sorted(UNITS)).flatmap(
        lambda kind: st.tuples(st.just(kind), st.sampled_from(sorted(UNITS[kind])))
    ),
    st.decimals(-9999, 9999, places=2),
)
def test_every_unit_is_read_with_and_without_a_space(unit: tuple[str, str], number: object) -> None:
    kind, name = unit
    expected = float(str(number)) * UNITS[kind][name]
    assert parse(kind, f"{number} {name}") == pytest.approx(expected)
    assert parse(kind, f"{number}{name}") == pytest.approx(expected)


@pytest.mark.parametrize(
    ("written", "found"),
    [
        (100, "found 100 without a unit"),
        ("100 mph", "found 100 with the unit 'mph'"),
        ("fast", "found 'fast'"),
        (None, "found None"),
        (True, "found True"),
    ],
)
def test_a_wrong_quantity_is_told_with_what_is_expected(written: object, found: str) -> None:
    with pytest.raises(ValueError, match=found) as told:
        parse("speed", written)
    assert "expected a speed in kt, such as '100 kt'" in str(told.value)


@given(st.text(max_size=30))
def test_no_text_is_read_as_anything_but_a_quantity_or_a_sentence(text: str) -> None:
    for kind in UNITS:
        try:
            assert isinstance(parse(kind, text), float)
        except ValueError as told:
            assert "expected" in str(told)
