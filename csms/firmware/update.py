"""The life of one station's update: a table."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum

from csms.stations.words.firmware import FirmwareState


class UpdateState(StrEnum):
    """ASKED: it was told; UNKNOWN: it has not answered, or not told anything for too long."""

    WAITING = "waiting"
    ASKED = "asked"
    DOWNLOADED = "downloaded"
    INSTALLING = "installing"
    INSTALLED = "installed"
    FAILED = "failed"
    UNKNOWN = "unknown"
    SKIPPED = "skipped"


RUNNING = frozenset({UpdateState.ASKED, UpdateState.DOWNLOADED, UpdateState.INSTALLING})
BAD = frozenset({UpdateState.FAILED, UpdateState.UNKNOWN})
OVER = frozenset({UpdateState.INSTALLED, UpdateState.SKIPPED}) | BAD

FOLLOWS: Mapping[FirmwareState, UpdateState] = {
    FirmwareState.DOWNLOAD_SCHEDULED: UpdateState.ASKED,
    FirmwareState.DOWNLOADING: UpdateState.ASKED,
    FirmwareState.DOWNLOAD_PAUSED: UpdateState.ASKED,
    FirmwareState.DOWNLOADED: UpdateState.DOWNLOADED,
    FirmwareState.SIGNATURE_VERIFIED: UpdateState.DOWNLOADED,
    FirmwareState.INSTALL_SCHEDULED: UpdateState.DOWNLOADED,
    FirmwareState.INSTALLING: UpdateState.INSTALLING,
    FirmwareState.INSTALL_REBOOTING: UpdateState.INSTALLING,
    FirmwareState.INSTALLED: UpdateState.INSTALLED,
    FirmwareState.DOWNLOAD_FAILED: UpdateState.FAILED,
    FirmwareState.INVALID_SIGNATURE: UpdateState.FAILED,
    FirmwareState.INSTALLATION_FAILED: UpdateState.FAILED,
    FirmwareState.INSTALL_VERIFICATION_FAILED: UpdateState.FAILED,
}
"""What a station's word means; Idle means nothing new."""

SILENT_AFTER = timedelta(hours=1)
"""After so long without a word an update counts as failed; what it came to is unknown."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Update:
    """`request_id` names it towards the station. `changed_at`: its last word."""

    campaign_id: str
    station_id: str
    state: UpdateState = UpdateState.WAITING
    request_id: int = 0
    detail: str = ""
    canary: bool = False
    changed_at: datetime


def heard(update: Update, told: str, now: datetime) -> Update:
    """After the station's word. What is over stays, but for a late success."""
    try:
        state = FOLLOWS.get(FirmwareState(told))
    except ValueError:
        state = None
    late = update.state is UpdateState.UNKNOWN and state is UpdateState.INSTALLED
    if state is None or (update.state not in RUNNING and not late):
        return update
    detail = told if state in BAD else ""
    return replace(update, state=state, detail=detail, changed_at=now)


def booted(update: Update, version: str, wanted: str, now: datetime) -> Update:
    """After a boot: the version that it reports is the best proof, whatever was told before."""
    if update.state not in RUNNING | {UpdateState.UNKNOWN}:
        return update
    if version == wanted:
        return replace(update, state=UpdateState.INSTALLED, detail="", changed_at=now)
    return update


def too_silent(update: Update, now: datetime) -> Update:
    """UNKNOWN after a long silence."""
    if update.state in RUNNING and now - update.changed_at >= SILENT_AFTER:
        return replace(update, state=UpdateState.UNKNOWN, detail="no word for an hour", changed_at=now)
    return update
