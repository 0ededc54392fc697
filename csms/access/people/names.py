"""What may be a name, a role or a password of somebody who signs in."""

from csms.access.people.principal import Role
from csms.errors import InvalidInput

NAME_LENGTH = 64
"""Short enough that `person:NAME` fits into the journals' column."""
PASSWORD_LENGTHS = range(10, 1001)


def checked_name(name: str) -> str:
    """`name` without blanks around it. Raises InvalidInput."""
    name = name.strip()
    if not name or len(name) > NAME_LENGTH or not name.isprintable():
        raise InvalidInput("name", f"give 1 to {NAME_LENGTH} printable characters")
    return name


def checked_role(role: str) -> Role:
    """`role` as a Role. Raises InvalidInput."""
    try:
        return Role(role)
    except ValueError:
        raise InvalidInput("role", f"give one of {', '.join(Role)}") from None


def checked_password(password: str) -> str:
    """`password`, unchanged. Raises InvalidInput when it is too short or endless.

    Length is all that is asked for: rules about kinds of characters lead to worse passwords
    (NIST SP 800-63B, section 5.1.1.2; from memory).
    """
    if len(password) not in PASSWORD_LENGTHS:
        raise InvalidInput(
            "password", f"give {PASSWORD_LENGTHS.start} to {PASSWORD_LENGTHS.stop - 1} characters"
        )
    return password
