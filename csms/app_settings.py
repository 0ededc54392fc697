"""The settings of the node, cut to what each feature needs. Pure; `app` hands them out."""

from collections.abc import Callable

from csms.alarms.channels import Channel
from csms.alarms.channels.mail import MailChannel
from csms.alarms.channels.webhook import WebhookChannel
from csms.alarms.routes import ChannelKind
from csms.clock import Clock
from csms.firmware.service import FirmwareSettings
from csms.gateway.link import LinkSettings
from csms.gateway.server import GatewaySettings
from csms.power.planner.planner_service import PlannerSettings
from csms.power.steering.timing import Timing
from csms.security.service import SecuritySettings
from csms.settings import Settings
from csms.stations.handlers import BootSettings


def web_url(settings: Settings) -> str:
    """Where chargers reach our web, without a slash at the end."""
    return settings.public_url.rstrip("/") or f"http://{settings.names[0]}:{settings.http_port}"


def boot_settings(settings: Settings) -> BootSettings:
    return BootSettings(heartbeat_s=settings.heartbeat_s, accept_unknown=settings.accept_unknown_stations)


def gateway_settings(settings: Settings) -> GatewaySettings:
    return GatewaySettings(
        host=settings.host,
        port=settings.ocpp_port,
        ping_interval_s=settings.ping_interval_s,
        max_frame_bytes=settings.max_frame_bytes,
        organization=settings.operator,
        link=LinkSettings(call_timeout_s=settings.call_timeout_s, garbage_limit=settings.garbage_limit),
    )


def security_settings(settings: Settings) -> SecuritySettings:
    return SecuritySettings(
        folder=settings.data_dir / "tls",
        names=settings.names,
        organization=settings.operator,
        tls_port=settings.ocpp_tls_port,
        mutual_port=settings.ocpp_mutual_tls_port,
    )


def firmware_settings(settings: Settings, web: Callable[[], str]) -> FirmwareSettings:
    """`web`: where chargers reach our web, known when we listen."""
    return FirmwareSettings(
        folder=settings.data_dir / "files",
        largest_image_mb=settings.largest_firmware_mb,
        largest_log_mb=settings.largest_log_mb,
        web=web,
    )


def timing(settings: Settings) -> Timing:
    return Timing(
        offer_validity_s=settings.offer_validity_s,
        rotation_s=settings.rotation_s,
        raise_delay_s=settings.raise_delay_s,
        meter_stale_s=settings.meter_stale_s,
        unseen_step_a=settings.unseen_step_a,
    )


def planner_settings(settings: Settings) -> PlannerSettings:
    return PlannerSettings(
        quantile=settings.planner_quantile,
        assumed_wh=1000 * settings.planner_assumed_kwh,
        time_limit_s=settings.planner_time_limit_s,
    )


def alarm_channels(settings: Settings, clock: Clock) -> dict[ChannelKind, Channel]:
    """Raises InvalidInput for an address of a mail server that is none."""
    return {
        ChannelKind.MAIL: MailChannel(settings.smtp_url, settings.mail_from, clock),
        ChannelKind.WEBHOOK: WebhookChannel(clock, private=settings.private_webhooks),
    }
