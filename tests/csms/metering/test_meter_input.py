import pytest

from csms.errors import InvalidInput
from csms.metering.inputs import INPUTS, parse_input
from csms.metering.meter_input import known


def test_the_kind_itself_is_no_setting_of_a_kind() -> None:
    fields = known({"kind": "p1", "host": "a"}, "meter.input", "host")
    assert "host" in fields
    assert "kind" not in fields


@pytest.mark.parametrize(
    ("given", "field"),
    [({}, "meter.input.kind"), ({"kind": "gas"}, "meter.input.kind"), ({"kind": 7}, "meter.input.kind")],
)
def test_an_unknown_kind_is_refused(given: dict[str, object], field: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        parse_input(given)
    assert refused.value.field == field
    assert "mqtt" in refused.value.problem


def test_every_kind_has_its_own_name_and_nothing_means_pushed() -> None:
    assert len({each.kind for each in INPUTS}) == len(INPUTS) == 5
    assert parse_input(None).kind == "rest"
