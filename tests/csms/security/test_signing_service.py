"""Certificates for stations, on both databases."""

import pytest

from csms.clock import ManualClock
from csms.errors import StationSilent
from csms.security.certificate import facts, read_pem
from csms.security.signing_service import CertificateSigning
from csms.stations.commands import CommandResult, CommandStatus
from csms.stations.sockets.service import SocketsService
from csms.stations.words.security import CertificateAsked, CertificateUse, DeliverCertificate
from csms.store.database import Database
from tests.csms.security.conftest import Talkative
from tests.csms.security.requests import request
from tests.csms.yard import BAY_1
from tests.csms.yard import facts as told

DAY_S = 86_400.0


async def test_what_is_asked_is_signed_and_delivered(
    signing: CertificateSigning, commands: Talkative, yard: Database
) -> None:
    assert await signing.carry_out(BAY_1, CertificateAsked(request(BAY_1), request_id=7))
    (delivered,) = commands.asked
    assert isinstance(delivered, DeliverCertificate)
    assert (delivered.use, delivered.request_id) == (CertificateUse.STATION, 7)
    (kept,) = await signing.certificates(BAY_1)
    assert kept.state == "installed"
    assert kept.serial_number == facts(read_pem("chain", delivered.chain)).serial_number
    assert await signing.carry_out(BAY_1, CertificateAsked(request(BAY_1)))
    assert [each.state for each in await signing.certificates(BAY_1)] == ["installed", "replaced"]
    assert len(await told(yard, "station.certificate")) == 2


async def test_the_answer_only_says_that_it_is_passed_on(
    signing: CertificateSigning, clock: ManualClock
) -> None:
    taken = await signing.certificate_asked(BAY_1, CertificateAsked(request(BAY_1)), clock.now())
    assert taken.accepted
    contract = CertificateAsked(request(BAY_1), use=CertificateUse.V2G)
    refused = await signing.certificate_asked(BAY_1, contract, clock.now())
    assert (refused.accepted, len(refused.reason) <= 20) == (False, True)


@pytest.mark.parametrize("answer", ["refused", "silent"])
async def test_a_certificate_that_is_not_taken_is_told(
    signing: CertificateSigning, commands: Talkative, yard: Database, answer: str
) -> None:
    refusal = CommandResult(CommandStatus.REJECTED, "no room")
    commands.answers[DeliverCertificate] = lambda _c: refusal if answer == "refused" else StationSilent(BAY_1)
    assert not await signing.carry_out(BAY_1, CertificateAsked(request(BAY_1)))
    (kept,) = await signing.certificates(BAY_1)
    assert kept.state == "refused"
    (fact,) = await told(yard, "station.certificate_failed")
    assert ("no room" in fact.body["problem"]) is (answer == "refused")


async def test_a_request_for_somebody_else_is_not_signed(
    signing: CertificateSigning, commands: Talkative, yard: Database
) -> None:
    assert not await signing.carry_out(BAY_1, CertificateAsked(request("BAY-99")))
    assert commands.asked == []
    (fact,) = await told(yard, "station.certificate_failed")
    assert "BAY-99, not for this station" in fact.body["problem"]


async def test_before_it_ends_the_station_is_asked_for_a_new_request(
    signing: CertificateSigning,
    commands: Talkative,
    yard: Database,
    clock: ManualClock,
    sockets: SocketsService,
) -> None:
    await signing.carry_out(BAY_1, CertificateAsked(request(BAY_1)))
    assert await signing.renew_due() == 0
    clock.advance(701 * DAY_S)
    assert await signing.renew_due() == 1
    assert commands.kinds == ["DeliverCertificate", "Trigger"]
    assert len(await told(yard, "station.certificate_ends")) == 1
    await sockets.lost(BAY_1, 1, clock.now())
    assert await signing.renew_due() == 0, "it is not there to be asked"
