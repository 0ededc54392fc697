"""Each feature is told what was set, and nothing is mixed up."""

from pathlib import Path

import pytest

from csms import app_settings
from csms.alarms.routes import ChannelKind
from csms.clock import ManualClock
from csms.errors import InvalidInput
from csms.settings import Settings

SETTINGS = Settings(
    data_dir=Path("yard"),
    host="192.0.2.7",
    ocpp_port=1,
    ocpp_tls_port=2,
    ocpp_mutual_tls_port=3,
    http_port=4,
    server_names="yard.weavers.example, 192.0.2.7",
    operator="Weavers' Yard",
    heartbeat_s=60,
    call_timeout_s=7,
    ping_interval_s=8,
    rotation_s=600,
    raise_delay_s=9,
    meter_stale_s=11,
    largest_firmware_mb=12,
    largest_log_mb=13,
    planner_assumed_kwh=14,
)


def test_every_door_has_its_port() -> None:
    gateway, security = app_settings.gateway_settings(SETTINGS), app_settings.security_settings(SETTINGS)
    assert (gateway.port, security.tls_port, security.mutual_port) == (1, 2, 3)
    assert security.names == ("yard.weavers.example", "192.0.2.7")
    assert {gateway.organization, security.organization} == {"Weavers' Yard"}
    assert (gateway.link.call_timeout_s, gateway.ping_interval_s) == (7, 8)


def test_times_and_sizes() -> None:
    timing = app_settings.timing(SETTINGS)
    assert (timing.rotation_s, timing.raise_delay_s, timing.meter_stale_s) == (600, 9, 11)
    firmware = app_settings.firmware_settings(SETTINGS, lambda: "x")
    assert (firmware.largest_image_mb, firmware.largest_log_mb) == (12, 13)
    assert app_settings.planner_settings(SETTINGS).assumed_wh == 14_000
    assert app_settings.boot_settings(SETTINGS).heartbeat_s == 60


def test_the_web_is_where_it_is_said_to_be() -> None:
    assert app_settings.web_url(SETTINGS) == "http://yard.weavers.example:4"
    said = SETTINGS.model_copy(update={"public_url": "https://yard.weavers.example/"})
    assert app_settings.web_url(said) == "https://yard.weavers.example"


def test_a_mail_server_that_is_none_is_named(clock: ManualClock) -> None:
    assert set(app_settings.alarm_channels(SETTINGS, clock)) == set(ChannelKind)
    with pytest.raises(InvalidInput, match="smtp_url"):
        app_settings.alarm_channels(SETTINGS.model_copy(update={"smtp_url": "http://x"}), clock)
