"""What the configuration file says of the room: the screen in it, and the keys of a pedal or a pad."""

import re
from ipaddress import ip_address
from typing import Annotated, Self

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StringConstraints, model_validator

from handsfree.key_names import KEY_NAMES
from handsfree.model.commands import Control

Name = Annotated[str, StringConstraints(min_length=1, max_length=200, strip_whitespace=True)]
"""A name of something that is configured."""


class Table(BaseModel):
    """A table of the file: no key that there is not."""

    model_config = ConfigDict(extra="forbid", frozen=True)


def _is_number(address: str) -> str:
    try:
        return str(ip_address(address))
    except ValueError:
        raise ValueError(f"{address!r} is no address by number, such as 10.0.0.12") from None


def _is_host(name: str) -> str:
    if re.fullmatch(r"[A-Za-z0-9-]+(\.[A-Za-z0-9-]+)*", name) is None:
        raise ValueError(f"{name!r} is no name of a host, such as room-3.clinic.example")
    return name.lower()


def _is_key(name: str) -> str:
    if name not in KEY_NAMES:
        raise ValueError(f"{name!r} is none of {', '.join(KEY_NAMES)}; keys that type characters are a scanner's")
    return name


class Screen(Table):
    """Where the screen for the room is served; on loopback alone where nothing is said.

    Attributes:
        address: Address of this machine, by number, at which other devices of the site reach it; it needs `certificate`
            and `key`. None for loopback.
        name: Name by which their browsers call it, as the certificate has it; None for the number.
        port: Port; 0 for any free one.
        certificate: File with the site's certificate chain for it (PEM). A leading ~ is the home folder.
        key: File with its private key (PEM, without a passphrase).
        token_file: File with the secret of the screen's address, 32 letters, digits, - and _ or more, which nobody else
            may read, so that a device keeps its bookmark; None for a new secret at each run.
    """

    address: Annotated[Name, AfterValidator(_is_number)] | None = None
    name: Annotated[Name, AfterValidator(_is_host)] | None = None
    port: Annotated[int, Field(ge=0, le=65535, strict=True)] = 0
    certificate: Name | None = None
    key: Name | None = None
    token_file: Name | None = None

    @model_validator(mode="after")
    def _encrypted(self) -> Self:
        if (self.certificate is None) != (self.key is None):
            raise ValueError("certificate and key belong together: give both, or none")
        if self.certificate is None and not self.is_local:
            raise ValueError(
                f"address {self.address} is reached by others: give certificate and key of the site, or leave it out"
            )
        return self

    @property
    def is_local(self) -> bool:
        """Whether this machine alone reaches it."""
        return self.address is None or ip_address(self.address).is_loopback


class Keys(Table):
    """Keys of a pedal or a pad with large keys, by name (`runner.keys.KEY_NAMES`); each is for one thing.

    Attributes:
        affirm: The key that affirms what is asked, or None.
        again: The key that has the last prompt said again, or None.
        stop: The key that stops, or None.
    """

    affirm: Annotated[Name, AfterValidator(_is_key)] | None = None
    again: Annotated[Name, AfterValidator(_is_key)] | None = None
    stop: Annotated[Name, AfterValidator(_is_key)] | None = None

    @model_validator(mode="after")
    def _apart(self) -> Self:
        given = [key for key in (self.affirm, self.again, self.stop) if key is not None]
        if len(given) != len(set(given)):
            raise ValueError("one key is named for two things; give each a key of its own")
        return self

    @property
    def by_key(self) -> dict[str, Control]:
        """What each key says."""
        said = {self.affirm: Control.AFFIRM, self.again: Control.SAY_AGAIN, self.stop: Control.STOP}
        return {key: control for key, control in said.items() if key is not None}
