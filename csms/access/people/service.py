"""Creates people, signs them in and out."""

import asyncio
import hashlib
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerifyMismatchError

from csms.access.people import repository
from csms.access.people.attempts import Attempts
from csms.access.people.names import checked_name, checked_password, checked_role
from csms.access.people.principal import Principal, PrincipalKind
from csms.access.people.repository import Person
from csms.clock import Clock
from csms.errors import Conflict, NotFound
from csms.ids import new_secret
from csms.store.database import Database

HASHES_AT_ONCE = 2
"""Each takes 64 MiB and a core for a tenth of a second (argon2-cffi's default)."""


@dataclass(frozen=True, slots=True)
class SignIn:
    """A sign-in that holds. `secret` is for the cookie, `form_token` for the forms."""

    principal: Principal
    secret: str
    form_token: str
    expires_at: datetime


class Refusal(StrEnum):
    """Why somebody was not signed in. An unknown name is not told from a wrong password."""

    WRONG = "wrong"
    TOO_MANY = "too_many"


class PeopleService:
    """People and their sign-ins. `clock` is the machine's, even where the demo's runs faster."""

    def __init__(
        self,
        database: Database,
        clock: Clock,
        session_hours: int = 12,
        hasher: PasswordHasher | None = None,
        attempts: Attempts | None = None,
    ) -> None:
        self._database = database
        self._clock = clock
        self._holds = timedelta(hours=session_hours)
        self._hasher = hasher or PasswordHasher()
        self._attempts = attempts or Attempts()
        self._hashing = asyncio.Semaphore(HASHES_AT_ONCE)
        self._decoy: str | None = None

    async def create(self, name: str, password: str, role: str = "manager") -> Person:
        """A new person. Raises InvalidInput, or Conflict when the name is taken."""
        new = Person(checked_name(name), checked_role(role), self._clock.now())
        password_hash = await self._hash(checked_password(password))
        async with self._database.write() as connection:
            if not await repository.add_person(connection, self._database.dialect, new, password_hash):
                raise Conflict(f"there is already a person named {new.name}")
        return new

    async def list(self) -> tuple[Person, ...]:
        """All, by name."""
        async with self._database.read() as connection:
            return await repository.list_people(connection)

    async def set_password(self, name: str, password: str) -> None:
        """Replace the password and end the person's sign-ins. Raises InvalidInput, NotFound."""
        password_hash = await self._hash(checked_password(password))
        async with self._database.write() as connection:
            if not await repository.set_password(connection, name, password_hash):
                raise NotFound("person", name)
            await repository.remove_sign_ins(connection, name=name)

    async def remove(self, name: str) -> None:
        """The person can sign in no more, and is signed out. Raises NotFound."""
        async with self._database.write() as connection:
            if not await repository.remove_person(connection, name):
                raise NotFound("person", name)

    async def sign_in(self, name: str, password: str) -> SignIn | Refusal:
        """A new sign-in, or why there is none."""
        name = name.strip()
        now = self._clock.now()
        if not self._attempts.take(name, now):
            return Refusal.TOO_MANY
        found = None
        if name.isprintable():
            async with self._database.read() as connection:
                found = await repository.password_of(connection, name)
        # An unknown name costs the same time as a wrong password.
        password_hash = found[1] if found else await self._decoy_hash()
        good = await self._verify(password_hash, password)
        if found is None or not good:
            return Refusal.WRONG
        self._attempts.forget(name)
        person = found[0]
        secret, form_token, expires_at = new_secret(), new_secret(), now + self._holds
        async with self._database.write() as connection:
            await repository.add_sign_in(
                connection, _digest(secret), person.name, form_token, now, expires_at
            )
        return SignIn(_principal(person), secret, form_token, expires_at)

    async def check(self, secret: str) -> SignIn | None:
        """The sign-in that `secret` belongs to, if it still holds."""
        async with self._database.read() as connection:
            found = await repository.find_sign_in(connection, _digest(secret), self._clock.now())
        if found is None:
            return None
        person, form_token, expires_at = found
        return SignIn(_principal(person), secret, form_token, expires_at)

    async def sign_out(self, secret: str) -> None:
        """End the sign-in; one that is over is nothing to complain about."""
        async with self._database.write() as connection:
            await repository.remove_sign_ins(connection, secret_hash=_digest(secret))

    async def _decoy_hash(self) -> str:
        if self._decoy is None:
            self._decoy = await self._hash(new_secret())
        return self._decoy

    async def _hash(self, password: str) -> str:
        async with self._hashing:
            return await asyncio.to_thread(self._hasher.hash, password)

    async def _verify(self, password_hash: str, password: str) -> bool:
        if len(password) > 1000:
            password = ""
        async with self._hashing:
            try:
                return await asyncio.to_thread(self._hasher.verify, password_hash, password)
            except (VerifyMismatchError, InvalidHashError):
                return False


def _principal(person: Person) -> Principal:
    return Principal(PrincipalKind.PERSON, person.name, person.role)


def _digest(secret: str) -> bytes:
    return hashlib.sha256(secret.encode(errors="surrogatepass")).digest()
