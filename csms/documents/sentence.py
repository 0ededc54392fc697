"""Texts of a statement: a key with arguments becomes a sentence of one language."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal, InvalidOperation
from zoneinfo import ZoneInfo

from csms.documents.figures import Figures
from csms.documents.language import Language, check_language
from csms.documents.words import Words, words_of
from csms.ledger.statement import Line, LineKind, Statement
from csms.money import Currency, Money

_WORDS = {"key": "key", "rule": "rule", "of": "of", "reason": "reason"}
"""Arguments that are words themselves, and the prefix of their messages."""
_AMOUNTS = frozenset({"amount"})
_RATES = frozenset({"price", "markup", "fees"})
_NUMBERS = frozenset({"factor", "weight", "whole", "count"})
_WEIGHTS = ("weight", "whole")
_OF_ENERGY = frozenset({"kwh", "peak"})
_PERIOD = re.compile(r"\d{4}-(0[1-9]|1[0-2])")


@dataclass(frozen=True, slots=True)
class Voice:
    """How one statement speaks: its language, its site's time, its currency."""

    words: Words
    figures: Figures
    currency: Currency

    def say(self, message_id: str, **values: str) -> str:
        """A message as it is, the values already written."""
        return self.words.say(message_id, values)

    def money(self, minor: int) -> str:
        """An amount in minor units."""
        return self.figures.money(Money(minor, self.currency))

    def sentence(self, message_id: str, arguments: Mapping[str, str]) -> str:
        """A message with arguments as the ledger keeps them: numbers as decimal text, words as keys.

        An argument that the message does not use is left out, one that is missing is shown as "…".
        """
        written = {name: self._write(name, value) for name, value in arguments.items()}
        if arguments.get("key") in _OF_ENERGY:
            # What a share is a share of: kilowatt-hours here, otherwise places or days.
            written |= {name: self._energy(arguments[name]) for name in _WEIGHTS if name in arguments}
        return self.words.say(message_id, _Patient(written))

    def _write(self, name: str, value: str) -> str:
        if name in _WORDS:
            message_id = f"{_WORDS[name]}.{value}"
            return self.words.say(message_id, {}) if self.words.knows(message_id) else value
        if name == "period" and _PERIOD.fullmatch(value):
            return self.figures.month(date.fromisoformat(f"{value}-01"))
        if name == "unit":
            return self.words.say(f"unit.{value}", {}) if self.words.knows(f"unit.{value}") else value
        number = _decimal(value)
        if number is None:
            return value
        if name in _AMOUNTS:
            return self.figures.money(Money.from_decimal(number, self.currency))
        if name in _RATES:
            return self.figures.rate(number, self.currency, "")
        if name == "percent":
            return self.figures.percent(number)
        return self.figures.shortest(number, 0, 3) if name in _NUMBERS else value

    def _energy(self, value: str) -> str:
        number = _decimal(value)
        return value if number is None else self.figures.energy(number)

    def line(self, line: Line) -> str:
        """What a line charges for."""
        return self.sentence(f"line.{line.kind.value}", line.arguments)

    def under(self, line: Line) -> str:
        """The smaller text under it; "" when there is none."""
        if line.kind is LineKind.POOL_SHARE and "key" in line.arguments:
            told = "under" if line.arguments.get("supplier") else "under_plain"
            return self.sentence(f"line.pool_share.{told}", line.arguments)
        if line.kind is LineKind.CORRECTION:
            parts = [self._write(name, line.arguments.get(name, "")) for name in ("name", "reason")]
            return "; ".join(text for text in parts if text)
        return ""


class _Patient(dict[str, str]):
    """Statements are kept for years: one that lacks an argument of a newer message is still printed."""

    def __missing__(self, key: str) -> str:
        return "…"


def _decimal(text: str) -> Decimal | None:
    try:
        number = Decimal(text)
    except InvalidOperation:
        return None
    return number if number.is_finite() else None


def voice_of(statement: Statement, language: Language | None = None) -> Voice:
    """How `statement` speaks: in its own language, unless another is asked for."""
    spoken = language or check_language("language", statement.language)
    figures = Figures(spoken, ZoneInfo(statement.time_zone))
    return Voice(words_of(spoken), figures, Currency(statement.currency))
