"""What must be set in a charger, or asked of it, so that its cars can be steered well.

Below a meter that counts the cars too their currents must be told every ten seconds: the draw of a car
that was read long ago cannot be taken off the total. And a charger that may put cars on a line that we
choose is asked whether it can. Once per start of the charger: what is right already is not written again,
what is written is read back, and what is refused is shown.
"""

import logging
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from csms.errors import StationError
from csms.power.offering_service import Commands
from csms.power.steering.state import SiteState
from csms.stations.commands import CommandStatus, GetVariables, SetVariables
from csms.stations.model import VariableValue
from csms.stations.variables import CURRENTS, Meaning, path_of
from csms.tasks import Tasks

log = logging.getLogger(__name__)

SAMPLE_S = 10
LONGEST_REASON = 80


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a charger needs: `samples` often enough; `choice`: it is asked whether it can choose the line,
    for these EVSEs."""

    protocol: str
    samples: bool = False
    choice: tuple[int, ...] = ()


def wanted(state: SiteState, station_id: str, protocol: str) -> Wanted:
    """What the charger needs where it stands."""
    wirings = [bay.wiring for evse, bay in state.bays.items() if evse.station_id == station_id]
    below = state.below_totals()
    return Wanted(
        protocol,
        samples=any(wiring.circuit in below for wiring in wirings),
        choice=tuple(w.evse.evse_id for w in wirings if w.can_choose_line and len(w.rotation) > 1),
    )


@dataclass(frozen=True, slots=True)
class SetUp:
    """What came of it. `sample_s`: it tells currents so often (None: nobody knows). `problem`: what it
    did not take, in words; "" when nothing."""

    sample_s: int | None = None
    problem: str = ""


class StationSetUp:
    """`heard`: called with a station, an EVSE and whether it can choose the line. `tasks` are those of the
    owner, who closes them."""

    def __init__(self, commands: Commands, tasks: Tasks, heard: Callable[[str, int, bool], None]) -> None:
        self._commands = commands
        self._tasks = tasks
        self._heard = heard
        self._done: dict[str, tuple[Wanted, SetUp]] = {}
        self._running: set[str] = set()

    def of(self, station_id: str) -> SetUp | None:
        """What came of the last time; None: nothing was asked, or nothing is known yet."""
        done = self._done.get(station_id)
        return done[1] if done else None

    def forget(self, station_id: str) -> None:
        """It has started anew: it may have lost its settings, or have others."""
        self._done.pop(station_id, None)

    def see_to(self, station_id: str, wanted: Wanted) -> None:
        """Do what is wanted, unless it is done or under way."""
        done = self._done.get(station_id)
        nothing = not wanted.samples and not wanted.choice
        if nothing or station_id in self._running or (done is not None and done[0] == wanted):
            return
        self._running.add(station_id)
        self._tasks.spawn(self._run(station_id, wanted), f"set-up of {station_id}")

    async def _run(self, station_id: str, wanted: Wanted) -> None:
        try:
            set_up = SetUp()
            if wanted.samples:
                set_up = await self._see_to_samples(station_id, wanted.protocol)
            for evse in wanted.choice:
                await self._ask_choice(station_id, wanted.protocol, evse)
            self._done[station_id] = wanted, set_up
        except StationError as error:
            log.info("%s could not be set up: %s", station_id, error)  # when it connects again
        finally:
            self._running.discard(station_id)

    async def _see_to_samples(self, station_id: str, protocol: str) -> SetUp:
        interval, sampled = (path_of(m, protocol) for m in (Meaning.SAMPLE_INTERVAL, Meaning.SAMPLED))
        if interval is None or sampled is None:
            return SetUp(problem="has no setting for how often it tells currents")
        told = await self._get(station_id, interval, sampled)
        problems = []
        if not 0 < _whole(told.get(interval)) <= SAMPLE_S:
            problems.append(await self._set(station_id, interval, str(SAMPLE_S)))
        measurands = [word.strip() for word in (told.get(sampled) or "").split(",") if word.strip()]
        if measurands and CURRENTS not in measurands:
            problems.append(await self._set(station_id, sampled, ",".join([*measurands, CURRENTS])))
        if problems:
            told = await self._get(station_id, interval, sampled)
        sample_s = _whole(told.get(interval))
        if not any(problems) and not 0 < sample_s <= SAMPLE_S:
            problems.append(f"tells currents every {sample_s} s" if sample_s else "does not say how often")
        return SetUp(sample_s or None, "; ".join(problem for problem in problems if problem))

    async def _get(self, station_id: str, *paths: str) -> Mapping[str, str | None]:
        result = await self._commands.ask(station_id, GetVariables(paths), routine=True)
        if not isinstance(result.data, tuple):
            return {}
        values = (value for value in result.data if isinstance(value, VariableValue))
        wanted = {path.casefold(): path for path in paths}
        return {wanted.get(value.path.casefold(), value.path): value.value for value in values}

    async def _set(self, station_id: str, path: str, value: str) -> str:
        """Returns what is wrong, "" when nothing is."""
        result = await self._commands.ask(station_id, SetVariables((VariableValue(path, value),)))
        if result.status is CommandStatus.ACCEPTED:
            return ""
        name = path.rpartition("/")[2]
        if result.status is CommandStatus.REBOOT_REQUIRED:
            return f"{name}: {value} counts from its next start"
        said = f" ({result.detail[:LONGEST_REASON]})" if result.detail else ""
        return f"{name}: {value} was not taken{said}"

    async def _ask_choice(self, station_id: str, protocol: str, evse: int) -> None:
        """It says so for the whole station, or for the EVSE."""
        found = [path_of(Meaning.LINE_CHOICE, protocol, place) for place in (None, evse)]
        paths = [path for path in found if path is not None]
        told = await self._get(station_id, *paths) if paths else {}
        self._heard(station_id, evse, any((value or "").casefold() == "true" for value in told.values()))


def _whole(text: str | None) -> int:
    try:
        return int(text or "")
    except ValueError:
        return 0
