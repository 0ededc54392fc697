"""When cars and vans stand at Weavers' Yard and what they need, from the package champpy's mobility model.

champpy draws trips by Markov chains whose parameters it ships: vans from the REM2030 driving profiles,
passenger cars from the survey KiD 2010. It runs off line, but sets up logging and the global random state
when imported, so it runs in a process of its own: `python -m tools.weavers_yard.arrivals FIRST_DAY DAYS
CARS VANS SEED` prints the stays as JSON.
"""

import contextlib
import io
import itertools
import json
import subprocess
import sys
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, Final
from zoneinfo import ZoneInfo

VAN_PARAMETERS: Final = 1
CAR_PARAMETERS: Final = 3
DEPOT: Final = 1
ELSEWHERE: Final = 3
"""champpy's "other location": for a private car the place where it stands most of the time, home."""

SHORTEST_STAY: Final = timedelta(hours=2)
CAR_KWH_PER_KM: Final = 0.18
VAN_KWH_PER_KM: Final = 0.29


@dataclass(frozen=True, slots=True, kw_only=True)
class Stay:
    """Vehicle number `vehicle` (from 0, cars and vans apart) stands here and has driven `energy_wh` out of
    its battery."""

    vehicle: int
    is_van: bool
    arrives_at: datetime
    departs_at: datetime
    energy_wh: float


def stays(first_day: date, days: int, zone: ZoneInfo, *, cars: int, vans: int, seed: int) -> list[Stay]:
    """All stays in those days, by arrival. Raises RuntimeError when champpy fails, with what it said."""
    arguments = [first_day.isoformat(), str(days), str(cars), str(vans), str(seed)]
    done = subprocess.run(
        [sys.executable, "-W", "ignore", "-m", "tools.weavers_yard.arrivals", *arguments],
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        raise RuntimeError(f"champpy could not draw the arrivals: {done.stderr.strip()[-400:]}")
    found = [
        Stay(
            vehicle=row["vehicle"],
            is_van=row["is_van"],
            arrives_at=datetime.fromisoformat(row["arrives"]).replace(tzinfo=zone),
            departs_at=datetime.fromisoformat(row["departs"]).replace(tzinfo=zone),
            energy_wh=row["energy_wh"],
        )
        for row in json.loads(done.stdout)
    ]
    return sorted(found, key=lambda stay: (stay.arrives_at, stay.is_van, stay.vehicle))


def between_trips(
    trips: list[dict[str, Any]], home: int, kwh_per_km: float, *, is_van: bool
) -> Iterator[dict[str, Any]]:
    """The stays at `home` between one vehicle's trips, with the energy of all trips since the last such
    stay."""
    energy_wh = 0.0
    for trip, following in itertools.pairwise(trips):
        energy_wh += trip["distance"] * kwh_per_km * 1000
        if trip["arr_loc"] != home or following["dep_dt"] - trip["arr_dt"] < SHORTEST_STAY:
            continue
        yield {
            "vehicle": trip["id_vehicle"] - 1,
            "is_van": is_van,
            "arrives": trip["arr_dt"].isoformat(),
            "departs": following["dep_dt"].isoformat(),
            "energy_wh": round(energy_wh),
        }
        energy_wh = 0.0


def draw(first_day: date, days: int, cars: int, vans: int, seed: int) -> list[dict[str, Any]]:
    """Run champpy in this process, its talk to the terminal swallowed."""
    with contextlib.redirect_stdout(io.StringIO()):
        import champpy
        import pandas

        rows: list[dict[str, Any]] = []
        kinds = (
            (CAR_PARAMETERS, cars, ELSEWHERE, CAR_KWH_PER_KM, False),
            (VAN_PARAMETERS, vans, DEPOT, VAN_KWH_PER_KM, True),
        )
        for parameters, count, home, kwh_per_km, is_van in kinds:
            if count == 0:
                continue
            model = champpy.MobModel(champpy.ParamsLoader().load_params(id_params=parameters))
            wanted = champpy.UserParamsMobModel(
                number_vehicles=count,
                start_date=pandas.Timestamp(first_day),
                end_date=pandas.Timestamp(first_day + timedelta(days=days)),
                random_seed=seed,
            )
            book = model.generate_mob_profiles(wanted).logbooks.df.sort_values(["id_vehicle", "dep_dt"])
            for _, trips in book.groupby("id_vehicle"):
                rows.extend(between_trips(trips.to_dict("records"), home, kwh_per_km, is_van=is_van))
        return rows


if __name__ == "__main__":
    warnings.simplefilter("ignore")
    day, *numbers = sys.argv[1:]
    drawn = draw(date.fromisoformat(day), *(int(number) for number in numbers))
    sys.stdout.write(json.dumps(drawn))
