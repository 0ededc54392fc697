import pytest

from csms.metering.json_path import look_up, parse_path

DOCUMENT = {"phases": [{"current": 4.2}, {"current": None}], "em:0": {"a_current": 7}, "total": 1}


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("phases[0].current", 4.2),
        ("$.phases[0].current", 4.2),
        ("phases[1].current", None),
        ("phases[2].current", None),
        ("phases.current", None),
        ("em:0.a_current", 7),
        ("total.more", None),
        ("total[0]", None),
        ("$", DOCUMENT),
    ],
)
def test_a_path_leads_to_a_value_or_to_nothing(text: str, found: object) -> None:
    assert look_up(DOCUMENT, parse_path(text)) == found


def test_a_list_may_be_the_whole_message() -> None:
    assert look_up([1, 2, 3], parse_path("[1]")) == 2
    assert look_up([1, 2, 3], parse_path("$[2]")) == 3


@pytest.mark.parametrize("text", ["", "a..b", "a[b]", "a[-1]", "a[1", ".a.", "*", "a.*", ".".join("a" * 17)])
def test_what_is_no_path_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"path|steps"):
        parse_path(text)
