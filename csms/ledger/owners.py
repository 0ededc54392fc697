"""Whose a session's energy is at an instant, and where a session has to be cut for it.

By the token's history where it knows the time, else the member that the session was noted for; energy
that is nobody's by its token is the place's owner's; then it is a guest's if the token was accepted, and
unknown if not.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from csms.access.ownerships.ownership import ALL_EVSES, Ownership, owner_at
from csms.ledger.inputs import GUESTS
from csms.ledger.registers import SessionRow


@dataclass(frozen=True, slots=True)
class Owners:
    """Made once for a month. `members`: those of the site; anybody else who charges is a guest."""

    members: frozenset[str]
    tokens: Mapping[str, Sequence[Ownership]]
    spaces: Mapping[tuple[str, int], Sequence[Ownership]]

    @classmethod
    def of(cls, members: Iterable[str], ownerships: Iterable[Ownership]) -> "Owners":
        tokens: defaultdict[str, list[Ownership]] = defaultdict(list)
        spaces: defaultdict[tuple[str, int], list[Ownership]] = defaultdict(list)
        for each in ownerships:
            if each.thing.token_id is not None:
                tokens[each.thing.token_id].append(each)
            elif each.thing.station_id is not None:
                spaces[each.thing.station_id, each.thing.evse or ALL_EVSES].append(each)
        return cls(frozenset(members), dict(tokens), dict(spaces))

    def account(self, row: SessionRow, at: int) -> str:
        """The account that pays at that instant: a member, GUESTS, or "" for unknown."""
        owner = self._by_token(row, at) or self._by_space(row, at)
        if owner is not None:
            return owner if owner in self.members else GUESTS
        return GUESTS if row.known else ""

    def cuts(self, row: SessionRow, start: int, end: int) -> list[int]:
        """Instants strictly between at which the account may change, in order."""
        history = [*self._of_token(row), *self._of_space(row)]
        if len(history) == 1 and history[0].from_at is None and history[0].to_at is None:
            return []
        marks = {
            int(at.timestamp()) for each in history for at in (each.from_at, each.to_at) if at is not None
        }
        inside = sorted(at for at in marks if start < at < end)
        return [at for at in inside if self.account(row, at) != self.account(row, at - 1)]

    def _by_token(self, row: SessionRow, at: int) -> str | None:
        history = self._of_token(row)
        if not history:
            return row.member_id
        if len(history) == 1 and history[0].from_at is None and history[0].to_at is None:
            return history[0].member_id
        known, owner = owner_at(history, datetime.fromtimestamp(at, UTC))
        return owner if known else row.member_id

    def _by_space(self, row: SessionRow, at: int) -> str | None:
        history = self._of_space(row)
        return owner_at(history, datetime.fromtimestamp(at, UTC))[1] if history else None

    def _of_token(self, row: SessionRow) -> Sequence[Ownership]:
        return () if row.token_id is None else self.tokens.get(row.token_id, ())

    def _of_space(self, row: SessionRow) -> Sequence[Ownership]:
        if not self.spaces:
            return ()
        mine = self.spaces.get((row.station_id, row.evse), ())
        return mine or self.spaces.get((row.station_id, ALL_EVSES), ())
