"""The composition root: makes every service once, and ties who says to who listens.

`Central` is what the rest of the program is handed. Its attributes are the services; nothing in
here decides anything. Start order: database, what a restart must put right, power (which knows
what was promised), the relay, and the socket last, so that the first station finds everything
ready. Stop order is the reverse.
"""

import random
import secrets
import uuid
from collections.abc import Callable, Mapping
from datetime import datetime

from csms import app_settings
from csms.access.cards.service import CardsService
from csms.access.groups.service import GroupsService
from csms.access.handlers import AccessHandlers
from csms.access.keys.service import KeysService
from csms.access.members.service import MembersService
from csms.access.ownerships.service import OwnershipsService
from csms.access.people.service import PeopleService
from csms.access.rights.service import RightsService
from csms.access.tokens.service import TokensService
from csms.access.verdict.service import Judge
from csms.alarms.concerned_service import ConcernedMembers
from csms.alarms.delivery_service import Deliveries
from csms.alarms.route_service import AlarmRoutes
from csms.alarms.selftests.service import SelfTests
from csms.alarms.service import AlarmsService
from csms.clock import Clock, SystemClock
from csms.cluster.bus import Bus
from csms.cluster.history import History
from csms.cluster.relay import Relay
from csms.dispatch import Dispatcher
from csms.documents.issued_service import IssuedStatements
from csms.documents.service import DocumentsService
from csms.errors import OurFault
from csms.firmware.service import Firmware
from csms.gateway.link import LinkPorts
from csms.gateway.replay_service import Replay
from csms.gateway.server import Door, Gateway
from csms.ledger.service import Ledger
from csms.metering.building_service import BuildingService
from csms.metering.emissions.service import EmissionsService
from csms.metering.meter_service import Surroundings
from csms.metering.service import ReadingsService
from csms.metering.signed.keys.service import MeterKeysService
from csms.metering.signed.service import SignedDataService
from csms.power.installation import Line
from csms.power.planner.planning_service import Planning
from csms.power.proof_service import SafetyProof
from csms.power.service import PowerService
from csms.power.wiring_service import WiringChecks
from csms.security.service import StationSecurity
from csms.sessions.filing_service import Filing
from csms.sessions.handlers import SessionHandlers
from csms.sessions.lanes_service import Lanes
from csms.sessions.orphans.service import OrphansService
from csms.sessions.service import SessionsService
from csms.settings import Settings
from csms.sitefile.service import SiteFiles
from csms.sites.location.service import LocationsService
from csms.sites.model import Circuit
from csms.sites.service import SitesService
from csms.stations.composite.service import CompositeService
from csms.stations.events import EVENTS, ComponentsReported, MetersReported, StatusReported
from csms.stations.handlers import StationsHandlers
from csms.stations.handlers import register as register_stations
from csms.stations.journal.service import CommandJournal
from csms.stations.quarantine.service import QuarantineService
from csms.stations.questions import QUESTIONS, TransactionReported
from csms.stations.quirks.service import Quirks
from csms.stations.service import StationsService
from csms.stations.sockets.service import SocketsService
from csms.stations.told.handlers import ToldHandlers
from csms.store.database import Database
from csms.store.outbox import Fact
from csms.tariffs.handlers import SessionPricing
from csms.tariffs.market.service import MarketService
from csms.tariffs.market.watch_service import PriceWatch
from csms.tariffs.preview_service import Preview
from csms.tariffs.service import TariffsService
from csms.tasks import Tasks

RECORDS = ("site.", "circuit.", "station.created", "station.changed", "station.deleted", "group.")
"""Topics after which a site's installation may be another."""


class Central:
    """One node without its web. `clock` may run faster than the machine's (the demo says so).

    People and keys live by the machine's clock whatever the other does.
    """

    def __init__(
        self,
        settings: Settings,
        clock: Clock | None = None,
        *,
        speed_text: str = "",
        draw: Callable[[], float] = random.random,
    ) -> None:
        self.settings = settings
        self.clock = clock or SystemClock()
        self.speed_text = speed_text
        self.web_url = app_settings.web_url(settings)
        self.tasks = Tasks()
        self.bus = Bus()
        self.database = Database(settings.url)
        self.relay = Relay(self.database, self.clock)
        self.history = History(self.database)
        self.dispatcher = Dispatcher()
        self._make_people()
        self._make_stations(draw)
        self._make_sessions()
        self._make_power()
        self._make_proof()
        self._make_meters()
        self._make_planning()
        self._make_alarms()
        self._make_firmware()
        self._wire()

    def _make_people(self) -> None:
        database, clock = self.database, self.clock
        self.keys = KeysService(database, SystemClock())
        self.people = PeopleService(database, SystemClock(), self.settings.session_hours)
        self.sites = SitesService(database, clock)
        self.locations = LocationsService(database, clock, self.sites)
        self.emissions = EmissionsService(database, self.sites)
        self.members = MembersService(database, clock)
        self.groups = GroupsService(database, clock)
        self.tokens = TokensService(database, clock)
        self.ownerships = OwnershipsService(database, clock)
        self.rights = RightsService(database, clock)
        self.unknown_cards = CardsService(database, self.tokens)
        self.judge = Judge(database)

    def _make_stations(self, draw: Callable[[], float]) -> None:
        database, clock, settings = self.database, self.clock, self.settings
        self.stations = StationsService(database, clock, self.sites)
        self.journal = CommandJournal(database, clock)
        self.quarantine = QuarantineService(database)
        self.quirks = Quirks(database)
        self.replay = Replay(self.quarantine, self.stations, self.dispatcher, self.quirks, clock)
        unknown = settings.accept_unknown_stations
        self._sockets = SocketsService(database, clock, self.journal, accept_unknown=unknown)
        boot = app_settings.boot_settings(settings)
        self._station_handlers = StationsHandlers(database, self._sockets, boot, draw)
        self.told = ToldHandlers(database)
        ports = LinkPorts(
            stations=self._sockets,
            owners=self.dispatcher,
            journal=self.journal,
            quarantine=self.quarantine,
            clock=clock,
            new_id=lambda: str(uuid.uuid4()),
            quirks=self.quirks,
        )
        shown = app_settings.gateway_settings(settings)
        self.gateway = Gateway(ports, shown, secrets.token_bytes(32), self._doors)
        self.commands = self.gateway.registry
        self.composites = CompositeService(database, clock)
        self.security = StationSecurity(
            database,
            clock,
            app_settings.security_settings(settings),
            self.stations,
            self.commands,
            self.tasks,
            self.gateway.opened,
        )
        self.told.deciders.signer = self.security.signing

    def _doors(self) -> tuple[Door, ...]:
        return tuple(Door(way, port, self.security.tls.context(way)) for way, port in self.security.doors)

    def _make_sessions(self) -> None:
        self.readings = ReadingsService(self.database)
        filing = Filing(self.database, self.judge, self.readings)
        lanes = Lanes(self.database, filing)
        self.sessions = SessionsService(self.database, self.clock, self.readings, filing, lanes)
        self.orphans = OrphansService(self.database, self.clock, filing, lanes)
        self._session_handlers = SessionHandlers(self.database, filing, lanes, self.readings)
        self.signed_data = SignedDataService(self.database, self.clock, self.sessions.billed)
        self.meter_keys = MeterKeysService(self.database, self.clock, self.signed_data.wake)
        self.tariffs = TariffsService(self.database, self.clock)
        self.market = MarketService(self.database, self.clock)
        self.price_watch = PriceWatch(self.market, self.clock, self.settings.data_dir)
        self.preview = Preview(self.tariffs, self.market, self.groups)
        self.pricing = SessionPricing(
            self.database,
            self.clock,
            sites=self.sites,
            groups=self.groups,
            sessions=self.sessions,
            tariffs=self.tariffs,
            market=self.market,
        )
        self.ledger = Ledger(
            self.database,
            self.clock,
            sites=self.sites,
            ownerships=self.ownerships,
            tariffs=self.tariffs,
            market=self.market,
            pricing=self.pricing,
        )

        self.documents = DocumentsService(
            self.database,
            self.clock,
            sites=self.sites,
            statements=IssuedStatements(self.ledger.issuing, self.ledger.billing),
            tasks=self.tasks,
        )

    def _make_power(self) -> None:
        settings = self.settings
        self.power = PowerService(
            self.database,
            self.clock,
            sites=self.sites,
            stations=self.stations,
            sessions=self.sessions,
            groups=self.groups,
            commands=self.commands,
            delta_margin_percent=settings.delta_margin_percent,
            timing=app_settings.timing(settings),
            tell=lambda site_id: self.bus.publish(f"site:{site_id}", "power"),
        )

    def _make_proof(self) -> None:
        proof = SafetyProof(self.sites, self.stations, self.settings.delta_margin_percent)
        self.sites.prove_by(proof)
        self.stations.prove_by(proof)
        self.site_files = SiteFiles(
            self.database, self.clock, sites=self.sites, stations=self.stations, proof=proof
        )

        self.wiring_checks = WiringChecks(
            self.clock,
            power=self.power,
            sites=self.sites,
            stations=self.stations,
            sessions=self.sessions,
            tasks=self.tasks,
        )

    def _make_meters(self) -> None:
        around = Surroundings(
            database=self.database,
            clock=self.clock,
            secrets=self.settings.data_dir / "secrets",
            silent_at_least_s=self.settings.meter_stale_s,
            hear=self._building_measured,
        )
        self.meters = BuildingService(around, self.sites)

    def _make_alarms(self) -> None:
        database, clock, settings = self.database, self.clock, self.settings
        channels = app_settings.alarm_channels(settings, clock)
        self.deliveries = Deliveries(database, clock, channels, self.tasks)
        concerned = ConcernedMembers(clock, self.sessions, self.members)
        self.alarms = AlarmsService(database, clock, concerned=concerned.addresses, wake=self.deliveries.wake)
        self.alarm_routes = AlarmRoutes(database, clock)
        self.self_tests = SelfTests(database, clock, self.alarms)

    def _make_firmware(self) -> None:
        settings = self.settings
        self.firmware = Firmware(
            self.database,
            self.clock,
            app_settings.firmware_settings(settings, lambda: self.web_url),
            self.stations,
            self.sessions,
            self.commands,
            self.tasks,
        )

    def _make_planning(self) -> None:
        settings = self.settings
        self.planning = Planning(
            self.database,
            self.clock,
            sites=self.sites,
            members=self.members,
            sessions=self.sessions,
            meters=self.meters,
            power=self.power,
            market=self.market,
            settings=app_settings.planner_settings(settings),
            tell=lambda site_id: self.bus.publish(f"site:{site_id}", "plan"),
        )

    async def _building_measured(self, circuit: Circuit, told: Mapping[str, float], at: datetime) -> None:
        await self.power.circuit_reading(circuit, {Line(line): value for line, value in told.items()}, at)

    def _wire(self) -> None:
        register_stations(self.dispatcher, self._station_handlers)
        self.told.register(self.dispatcher)
        self.composites.follow(self.commands, self.dispatcher)
        AccessHandlers(self.judge).register(self.dispatcher)
        self._session_handlers.register(self.dispatcher)
        self.planning.register(self.dispatcher)
        if unowned := self.dispatcher.unowned((*QUESTIONS, *EVENTS)):
            raise OurFault(f"nobody owns {', '.join(unowned)}")
        self._session_handlers.follow(self.power.session_news)
        self._session_handlers.follow(self.planning.planner.session_news)
        self.dispatcher.listen(MetersReported, self.meters.station_told)
        self.dispatcher.listen(MetersReported, self.signed_data.station_told)
        self.dispatcher.listen(TransactionReported, self.signed_data.station_told)
        self.dispatcher.listen(MetersReported, self.quirks.readings_told)
        self.dispatcher.listen(TransactionReported, self.quirks.readings_told)
        self.dispatcher.listen(ComponentsReported, self.self_tests.components_told)
        self.dispatcher.listen(StatusReported, self.self_tests.status_told)
        self.database.on_facts(self.relay.wake)
        self.relay.follow("station.", self.power.station_fact)
        for topic in RECORDS:
            self.relay.follow(topic, self.power.records_changed)
        self.planning.follow(self.relay)
        self.relay.follow("circuit.", self.meters.circuit_fact)
        for topic in ("session.ended", "session.corrected"):
            self.relay.follow(topic, self.signed_data.session_fact)
        self.relay.follow("station.changed", self._station_changed)
        self.relay.follow("station.connected", self._station_connected)
        self.pricing.follow(self.relay)
        self.security.follow(self.relay)
        self.firmware.follow(self.relay)
        self.relay.follow("", self.alarms.hear)
        self.relay.follow("", self._tell_pages)

    @property
    def ocpp_port(self) -> int:
        """The port that chargers connect to, once started."""
        return self.gateway.port

    async def start(self) -> None:
        """Open everything, or nothing. Raises OSError when the port is taken."""
        try:
            await self._open()
        except BaseException:
            await self.stop()
            raise

    async def _open(self) -> None:
        await self.database.open()
        await self._sockets.all_lost()
        await self.journal.give_up_open()
        await self.power.start()
        await self.meters.start()
        self.price_watch.start()
        self.planning.start()
        self.relay.start(self.tasks)
        self.signed_data.start(self.tasks)
        self.deliveries.start(self.alarms)
        self.tasks.spawn(self.self_tests.watch(), "self-tests of chargers")
        self.tasks.spawn(self.pricing.price_missing(), "sessions left without a price")
        self.tasks.spawn(self.documents.go_on(), "documents left to be made")
        await self.gateway.open()
        self.security.start()
        self.firmware.start()

    async def stop(self) -> None:
        """Close everything; what was handed to the writer is written."""
        self.bus.close()
        await self.gateway.close()
        await self.meters.stop()
        await self.price_watch.stop()
        await self.planning.stop()
        await self.power.stop()
        await self.tasks.close()
        await self.database.close()

    async def _station_changed(self, _number: int, fact: Fact) -> None:
        station = await self.stations.get(fact.subject)
        await self.commands.registration_changed(station.id, station.registration)

    async def _station_connected(self, _number: int, fact: Fact) -> None:
        self.sessions.forget(fact.subject)

    async def _tell_pages(self, _number: int, fact: Fact) -> None:
        if fact.site_id is not None:
            self.bus.publish(f"site:{fact.site_id}", fact.topic)
