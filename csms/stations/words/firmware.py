"""Firmware, and the files of diagnostics (OCPP block L, and the logs of block N)."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class FirmwareState(StrEnum):
    """How far an update is."""

    IDLE = "idle"
    DOWNLOAD_SCHEDULED = "download_scheduled"
    DOWNLOADING = "downloading"
    DOWNLOAD_PAUSED = "download_paused"
    DOWNLOADED = "downloaded"
    DOWNLOAD_FAILED = "download_failed"
    SIGNATURE_VERIFIED = "signature_verified"
    INVALID_SIGNATURE = "invalid_signature"
    INSTALL_SCHEDULED = "install_scheduled"
    INSTALLING = "installing"
    INSTALL_REBOOTING = "install_rebooting"
    INSTALLED = "installed"
    INSTALLATION_FAILED = "installation_failed"
    INSTALL_VERIFICATION_FAILED = "install_verification_failed"


class LogState(StrEnum):
    """How far the sending of a log is."""

    IDLE = "idle"
    UPLOADING = "uploading"
    UPLOADED = "uploaded"
    UPLOAD_FAILED = "upload_failed"
    BAD_MESSAGE = "bad_message"
    NOT_SUPPORTED = "not_supported_operation"
    PERMISSION_DENIED = "permission_denied"
    ACCEPTED_CANCELED = "accepted_canceled"


class LogKind(StrEnum):
    DIAGNOSTICS = "diagnostics"
    SECURITY = "security"
    DATA_COLLECTOR = "data_collector"


@dataclass(frozen=True, slots=True)
class FirmwareReported:
    """`state`: a FirmwareState's text. `request_id` is that of the update; None in plain OCPP 1.6."""

    state: str
    request_id: int | None = None


@dataclass(frozen=True, slots=True)
class LogReported:
    """`state`: a LogState's text. `request_id` is that of GetLog; None for diagnostics of OCPP 1.6."""

    state: str
    request_id: int | None = None


@dataclass(frozen=True, slots=True)
class FirmwarePublished:
    """How far a local controller is with firmware that others shall fetch from it at `locations`."""

    state: str
    request_id: int | None = None
    locations: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class UpdateFirmware:
    """Fetch firmware from `location` (a URL) after `retrieve_at`, install it after `install_at`.

    With certificate (PEM) and signature (base64) the station checks them. OCPP 1.6 has the time of
    installation only with a signature.
    """

    request_id: int
    location: str
    retrieve_at: datetime
    install_at: datetime | None = None
    signing_certificate: str = ""
    signature: str = ""
    retries: int | None = None
    retry_interval_s: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishFirmware:
    """Have a local controller fetch firmware and offer it; `checksum` is MD5 in hex."""

    request_id: int
    location: str
    checksum: str
    retries: int | None = None
    retry_interval_s: int | None = None


@dataclass(frozen=True, slots=True)
class UnpublishFirmware:
    checksum: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GetLog:
    """Send a log to `location` (a URL). `data` of the result: the file's name, if the station told it.

    OCPP 1.6 sends diagnostics without a `request_id` in what it tells of them.
    """

    request_id: int
    location: str
    kind: LogKind = LogKind.DIAGNOSTICS
    from_at: datetime | None = None
    to_at: datetime | None = None
    retries: int | None = None
    retry_interval_s: int | None = None
