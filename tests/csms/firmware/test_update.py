"""The life of an update. States: OCPP 2.0.1 FirmwareStatusEnumType, all of them."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from ocpp.v201.enums import FirmwareStatusEnumType

from csms.firmware.update import FOLLOWS, SILENT_AFTER, Update, UpdateState, booted, heard, too_silent
from csms.stations.words.firmware import FirmwareState

NOW = datetime(2026, 11, 2, 11, tzinfo=UTC)
ASKED = Update(campaign_id="c", station_id="BAY-01", state=UpdateState.ASKED, changed_at=NOW)


def test_every_state_of_the_standard_has_a_meaning() -> None:
    assert len(FirmwareState) == len(list(FirmwareStatusEnumType))
    assert set(FirmwareState) - set(FOLLOWS) == {FirmwareState.IDLE}


@pytest.mark.parametrize(
    ("words", "state"),
    [
        (["downloading", "downloaded", "installing", "installed"], UpdateState.INSTALLED),
        (["downloading", "download_failed"], UpdateState.FAILED),
        (["downloaded", "invalid_signature", "installed"], UpdateState.FAILED),
        (["downloaded", "install_rebooting"], UpdateState.INSTALLING),
        (["idle"], UpdateState.ASKED),
        (["something of its own"], UpdateState.ASKED),
    ],
)
def test_words_move_it(words: list[str], state: UpdateState) -> None:
    update = ASKED
    for word in words:
        update = heard(update, word, NOW)
    assert update.state is state


def test_what_was_not_asked_is_not_moved() -> None:
    waiting = replace(ASKED, state=UpdateState.WAITING)
    assert heard(waiting, "installed", NOW) is waiting


def test_the_version_at_the_boot_is_the_best_proof() -> None:
    assert booted(ASKED, "2.0", "2.0", NOW).state is UpdateState.INSTALLED
    assert booted(ASKED, "1.0", "2.0", NOW) is ASKED
    failed = replace(ASKED, state=UpdateState.FAILED)
    assert booted(failed, "2.0", "2.0", NOW) is failed


def test_a_long_silence_is_unknown_and_a_late_success_counts() -> None:
    assert too_silent(ASKED, NOW + SILENT_AFTER - timedelta(seconds=1)) is ASKED
    silent = too_silent(ASKED, NOW + SILENT_AFTER)
    assert silent.state is UpdateState.UNKNOWN
    assert heard(silent, "installed", NOW).state is UpdateState.INSTALLED
    assert booted(silent, "2.0", "2.0", NOW).state is UpdateState.INSTALLED
