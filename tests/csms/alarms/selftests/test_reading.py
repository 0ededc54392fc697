"""Self-tests in a charger's own words; all of them invented, since no standard has any."""

import pytest

from csms.alarms.selftests.reading import result_of_text, result_of_variable


@pytest.mark.parametrize(
    ("path", "value", "passed"),
    [
        ("RCD@1/SelfTestResult", "Passed", True),
        ("ResidualCurrentMonitor/LastSelfTest", "ok", True),
        ("RCD@1/SelfTestResult", "FAILED", False),
        ("Controller/RdcSelfTest", "not ok", False),
        ("RCD@1/SelfTestResult", "running", None),
        ("RCD@1/SelfTestResult", None, None),
        ("RCD@1/Operated", "true", None),
        ("Display/SelfTest", "passed", None),
    ],
)
def test_variables(path: str, value: str | None, passed: bool | None) -> None:
    assert result_of_variable(path, value) is passed


@pytest.mark.parametrize(
    ("text", "passed"),
    [
        ("RCD self-test passed", True),
        ("DC 6mA RCM self test: failure", False),
        ("self-test passed", None),
        ("RCD tripped", None),
        ("", None),
    ],
)
def test_words(text: str, passed: bool | None) -> None:
    assert result_of_text(text) is passed
