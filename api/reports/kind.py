"""What kinds of reports are: what they are asked for, and who makes them.

REST, pages and tables read these and need to know no report by name.
"""

from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from zoneinfo import ZoneInfo

from api.deps import Central
from api.reports.period import Period, period_of
from api.reports.report import Column, Report
from csms.errors import InvalidInput
from csms.sites.model import Site


class Ask(StrEnum):
    """What a parameter is: one of its choices, a decimal number from 0 on, or the id of something."""

    CHOICE = "choice"
    NUMBER = "number"
    CIRCUIT = "circuit"
    MEMBER = "member"


@dataclass(frozen=True, slots=True, kw_only=True)
class Parameter:
    """Something a report is asked for besides site and period. `default` None: nothing.

    `about` tells people what to give.
    """

    name: str
    title: str
    ask: Ask
    about: str
    choices: tuple[str, ...] = ()
    default: str | None = None
    required: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What one report is made of. `values` holds every parameter that has a value, checked."""

    site: Site
    period: Period
    values: Mapping[str, str] = field(default_factory=dict)

    def number(self, name: str) -> Decimal | None:
        """A number that was asked for."""
        value = self.values.get(name)
        return None if value is None else Decimal(value)

    @property
    def about(self) -> dict[str, str]:
        """What every report says of itself."""
        return {
            "site_id": self.site.id,
            "site": self.site.name,
            "time_zone": self.site.time_zone,
            "from": self.period.start.isoformat(),
            "to": self.period.end.isoformat(),
            **self.values,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportKind:
    """`run` makes the report; `longest_days` bounds the period where there is a row for each interval."""

    id: str
    title: str
    about: str
    run: Callable[[Central, Asked], Awaitable[Report]]
    columns: tuple[Column, ...]
    parameters: tuple[Parameter, ...] = ()
    longest_days: int = 3700

    async def make(
        self,
        central: Central,
        site_id: str,
        times: tuple[str | None, str | None, str | None],
        given: Mapping[str, str | None],
    ) -> Report:
        """The report of a site; `times` are from, to and month as texts. Raises InvalidInput, NotFound."""
        site = await central.sites.get_site(site_id)
        period = period_of(*times, ZoneInfo(site.time_zone))
        made = await self.run(central, self.asked(site, period, given))
        month = times[2]
        return made if month is None else made.of_month(month)

    def asked(self, site: Site, period: Period, given: Mapping[str, str | None]) -> Asked:
        """The parameters checked, defaults filled in. Raises InvalidInput that names the parameter."""
        days = (period.end - period.start).total_seconds() / 86400
        if days > self.longest_days + 0.1:
            raise InvalidInput(
                "to", f"is more than {self.longest_days} days after from; ask for less at once"
            )
        known = {parameter.name for parameter in self.parameters}
        for name in given:
            if name not in known:
                raise InvalidInput(name, f"the report {self.id} has no such parameter; leave it out")
        values: dict[str, str] = {}
        for parameter in self.parameters:
            value = given.get(parameter.name) or parameter.default
            if value is not None:
                values[parameter.name] = _checked(parameter, value)
            elif parameter.required:
                raise InvalidInput(parameter.name, f"is missing: {parameter.about}")
        return Asked(site=site, period=period, values=values)


def _checked(parameter: Parameter, value: str) -> str:
    if parameter.ask is Ask.CHOICE and value not in parameter.choices:
        raise InvalidInput(
            parameter.name, f"must be one of {', '.join(parameter.choices)}, is {value[:40]!r}"
        )
    if parameter.ask is Ask.NUMBER:
        try:
            number = Decimal(value)
        except InvalidOperation:
            number = Decimal("NaN")
        if not number.is_finite() or not 0 <= number <= 10**9 or "e" in value.lower():
            raise InvalidInput(parameter.name, f"must be a number from 0 on such as 0.25, is {value[:40]!r}")
    return value
