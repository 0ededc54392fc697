"""`phaseyard price` as typed."""

import json
from pathlib import Path
from typing import Any

import pytest
import typer
from typer.testing import CliRunner

from api.cli.price import price

app = typer.Typer()
app.command()(price)

TARIFF: dict[str, Any] = {
    "currency": "EUR",
    "elements": [
        {
            "price_components": [
                {"type": "FLAT", "price": 0.5, "vat": 20.0, "step_size": 1},
                {"type": "ENERGY", "price": 0.25, "vat": 10.0, "step_size": 1},
            ]
        }
    ],
}
SESSION: dict[str, Any] = {
    "start_local": "2024-01-15T12:00:00",
    "time_zone": "Europe/Amsterdam",
    "segments": [{"kind": "CHARGING", "duration_s": 3600, "energy_kwh": 20}],
}


def run(tmp_path: Path, tariff: object, session: object) -> Any:
    """Both documents written to files (text as it is) and priced; None: no file."""
    arguments = []
    for name, content in (("tariff", tariff), ("session", session)):
        path = tmp_path / f"{name}.json"
        if isinstance(content, bytes):
            path.write_bytes(content)
        elif content is not None:
            path.write_text(content if isinstance(content, str) else json.dumps(content))
        arguments += [f"--{name}", str(path)]
    return CliRunner().invoke(app, arguments)


def test_it_prints_the_quote(tmp_path: Path) -> None:
    """OCPI tariffs module, "0.25 per kWh + start fee": 5.50 and 6.10 for 20 kWh."""
    result = run(tmp_path, TARIFF, SESSION)
    assert (result.exit_code, result.stderr) == (0, "")
    answer = json.loads(result.stdout)
    assert (answer["total_excl_vat"], answer["total_incl_vat"]) == ("5.50", "6.10")
    assert [line["dimension"] for line in answer["lines"]] == ["FLAT", "ENERGY"]


def test_fractions_are_read_exactly(tmp_path: Path) -> None:
    """1.005 is below 1.005 as a float (1.00499…), and would lose its cent."""
    tariff = {
        "currency": "EUR",
        "elements": [{"price_components": [{"type": "FLAT", "price": 1.005, "step_size": 1}]}],
    }
    assert json.loads(run(tmp_path, tariff, SESSION).stdout)["total_excl_vat"] == "1.01"


@pytest.mark.parametrize(
    ("tariff", "session", "line"),
    [
        (None, SESSION, "tariff: cannot read "),
        (TARIFF, None, "session: cannot read "),
        ("{", SESSION, "tariff: not JSON: "),
        (b"\xff\xfe", SESSION, "tariff: "),
        ("", SESSION, "tariff: not JSON: "),
        ("[]", SESSION, "tariff: must be an object, not a list"),
        ({**TARIFF, "currency": "EUX"}, SESSION, "tariff.currency: 'EUX' is not an ISO 4217 code"),
        ({**TARIFF, "elements": []}, SESSION, "tariff.elements: must have at least 1"),
        (TARIFF, {**SESSION, "time_zone": "Nowhere"}, "session.time_zone: 'Nowhere' is no zone"),
        (
            TARIFF,
            {**SESSION, "segments": [{"kind": "CHARGING", "duration_s": "long"}]},
            "session.segments[0].duration_s: must be a number, not the text 'long'",
        ),
    ],
)
def test_malformed_input_is_one_line_and_exit_2(
    tmp_path: Path, tariff: object, session: object, line: str
) -> None:
    result = run(tmp_path, tariff, session)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert result.stderr.startswith(line)
    assert result.stderr.count("\n") == 1


SPOT: dict[str, Any] = {
    "currency": "EUR",
    "elements": [{"price_components": [{"type": "ENERGY", "price": 0.3, "vat": 25, "step_size": 1}]}],
    "phaseyard": {"components": [{"type": "SPOT", "feed": "be", "markup_per_kwh": 0.01}]},
}
DAY_AHEAD = Path(__file__).parents[2] / "published" / "day_ahead.json"


def test_a_tariff_that_follows_the_market(tmp_path: Path) -> None:
    """The published day-ahead document: 1 kWh in each of its quarters, 0.3029 in all, and 6 x 0.01."""
    xml = json.loads(DAY_AHEAD.read_text(encoding="utf-8"))["a44_sample"]["xml"]
    prices = tmp_path / "day.xml"
    prices.write_text(xml, encoding="utf-8")
    session = {
        "start_local": "2026-01-15T00:00:00",
        "time_zone": "Europe/Brussels",
        "segments": [{"kind": "CHARGING", "duration_s": 5400, "energy_kwh": 6}],
    }
    (tmp_path / "tariff.json").write_text(json.dumps(SPOT))
    (tmp_path / "session.json").write_text(json.dumps(session))
    arguments = ["--tariff", str(tmp_path / "tariff.json"), "--session", str(tmp_path / "session.json")]
    result = CliRunner().invoke(app, [*arguments, "--prices", str(prices)])
    assert (result.exit_code, result.stderr) == (0, "")
    answer = json.loads(result.stdout)
    assert (answer["total_excl_vat"], answer["total_incl_vat"]) == ("0.36", "0.45")
    assert [line["quantity"] for line in answer["lines"]] == ["1", "6", "1", "1", "1", "-1", "-1"]
    assert answer["lines"][-1]["market"]["price_per_mwh"] == "-1.20"
    missing = CliRunner().invoke(app, arguments)
    assert (missing.exit_code, missing.stdout) == (2, "")
    assert missing.stderr.startswith("waiting for the market's prices of be from 2026-01-14T23:00:00Z")
    wrong = CliRunner().invoke(app, [*arguments, "--prices", str(prices), "--area", "10YNL----------L"])
    assert wrong.exit_code == 2
    assert wrong.stderr.startswith("day.xml, area: the feed wants 10YNL----------L")
