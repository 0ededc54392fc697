"""All of it put together: the doors, the keys, the certificates, the upgrades."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from csms.clock import Clock
from csms.cluster.relay import Relay
from csms.security.key_service import StationKeys
from csms.security.signer import LocalSigner, Signer
from csms.security.signing_service import CertificateSigning
from csms.security.tls_service import TlsFolder
from csms.security.upgrade_service import SecurityUpgrades
from csms.stations.asking import Commands
from csms.stations.security.profile import Profile, Way
from csms.stations.service import StationsService
from csms.store.database import Database
from csms.tasks import Tasks


@dataclass(frozen=True, slots=True, kw_only=True)
class SecuritySettings:
    """`names`: what stations call this server; `organization`: whose name stands in certificates.

    `tls_port`, `mutual_port`: of the doors of profiles 2 and 3; None: there is no such door.
    """

    folder: Path
    names: tuple[str, ...]
    organization: str
    tls_port: int | None
    mutual_port: int | None


class StationSecurity:
    """`opened` tells the ports of the open doors. `signer`: an outside authority instead of our own."""

    def __init__(
        self,
        database: Database,
        clock: Clock,
        settings: SecuritySettings,
        stations: StationsService,
        commands: Commands,
        tasks: Tasks,
        opened: Callable[[], Mapping[Way, int]],
        signer: Signer | None = None,
    ) -> None:
        self._settings = settings
        self._opened = opened
        self._tasks = tasks
        self._outside = signer
        self._clock = clock
        self.tls = TlsFolder(settings.folder, clock, names=settings.names, organization=settings.organization)
        self.keys = StationKeys(database, clock, stations, commands)
        self.signing = CertificateSigning(database, clock, stations, commands, tasks, self._signer)
        self.upgrades = SecurityUpgrades(
            database,
            clock,
            stations,
            commands,
            self.signing,
            tasks,
            doors=self.addresses,
            root_pem=lambda: self.tls.authority.root_pem,
        )

    @property
    def doors(self) -> tuple[tuple[Way, int], ...]:
        """The doors with TLS that are wanted, and their ports as set."""
        wanted = ((Way.TLS, self._settings.tls_port), (Way.MUTUAL, self._settings.mutual_port))
        return tuple((way, port) for way, port in wanted if port is not None)

    def addresses(self) -> dict[Profile, str]:
        """Where a station of each profile connects; its identity follows the last slash."""
        name = self._settings.names[0]
        kinds = {
            Way.PLAIN: (Profile.KEY, "ws"),
            Way.TLS: (Profile.KEY_OVER_TLS, "wss"),
            Way.MUTUAL: (Profile.CERTIFICATE, "wss"),
        }
        found = {}
        for way, port in self._opened().items():
            profile, scheme = kinds[way]
            found[profile] = f"{scheme}://{name}:{port}/ocpp/"
        return found

    def follow(self, relay: Relay) -> None:
        relay.follow("station.", self.upgrades.fact)

    def start(self) -> None:
        if self.doors:
            self._tasks.spawn(self.tls.watch(), "certificates of the doors")
            self._tasks.spawn(self.signing.watch(), "certificates of stations")

    def _signer(self) -> Signer:
        if self._outside is not None:
            return self._outside
        return LocalSigner(self.tls.authority, self._settings.organization, self._clock)
