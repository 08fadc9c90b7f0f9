"""What names a store: an address of PostgreSQL without a secret. Pure."""

from urllib.parse import parse_qsl, unquote, urlsplit

from handsfree.errors import UsageError

_SCHEMES = ("postgresql://", "postgres://")
RIGHT = "postgresql://USER@HOST/DATABASE, or postgresql:///?service=NAME"
_SECRETS = frozenset({"password", "sslpassword"})


def is_address(text: str) -> bool:
    """Whether a text names a store and no folder."""
    return text.startswith(_SCHEMES)


def checked_address(text: str) -> str:
    """The address of a store.

    Raises:
        UsageError: It is none, or holds a password: that would stand in lists of processes and in files of settings.
    """
    if not is_address(text):
        raise UsageError(f"{text} is no address of a store; {RIGHT} would be right")
    try:
        parts = urlsplit(text)
        given = [name for name, _ in parse_qsl(parts.query)]
    except ValueError as error:
        raise UsageError(f"the address of the store cannot be read: {error}; {RIGHT} would be right") from error
    if parts.password is not None or _SECRETS.intersection(given):
        raise UsageError(
            "the address of a store holds no password; put it into PostgreSQL's password file (~/.pgpass, or passfile="
            " in a service file)"
        )
    return text


def place_of(address: str) -> str:
    """An address in words for a person: the service, or host and database."""
    parts = urlsplit(address)
    given = dict(parse_qsl(parts.query))
    if "service" in given:
        return f"service {given['service']}"
    host = given.get("host") or unquote(parts.hostname or "") or "this machine"
    return f"{host}{parts.path}"
