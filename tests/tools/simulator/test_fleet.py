"""Many stations in one process, in accelerated time, from the command line's own entry."""

from typing import Any

import pytest

from tools.simulator.__main__ import main, parse, simulate, summary
from tools.simulator.clock import RunningClock
from tools.simulator.fleet import FleetOrder
from tools.simulator.station import Version


async def test_24_stations_at_30_times_real_time_stay_responsive(
    central: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    options = parse(
        [
            "--url",
            central.url,
            "--count",
            "24",
            "--factor",
            "30",
            "--token",
            "04A1B2C3D4E5F6",
            "--seconds",
            "4",
        ]
    )
    with pytest.raises(TimeoutError):
        await simulate(options)
    assert "24 stations" in capsys.readouterr().out
    assert len(central.heard.of("BootNotification")) == 24
    assert len(central.heard.of("StartTransaction")) == 12
    started = [e for e in central.heard.of("TransactionEvent") if e["eventType"] == "Started"]
    assert len(started) == 12
    assert len(central.heard.of("MeterValues")) >= 12  # one simulated minute is two seconds here


def test_versions_are_mixed_as_ordered() -> None:
    models = FleetOrder(count=10, share_201=0.3).models()
    assert sum(model.version is Version.V201 for model in models) == 3
    assert len({model.identity for model in models}) == 10
    assert {model.wiring for model in models[:3]} == {(0, 1, 2), (1, 2, 0), (2, 0, 1)}
    assert summary([]).startswith("0/0 on line")


def test_bad_orders_name_the_field(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--count", "0"]) == 2
    assert "count" in capsys.readouterr().err
    assert main(["--factor", "-1"]) == 2
    assert "factor" in capsys.readouterr().err
    assert "30 times as fast" in str(RunningClock(factor=30))
