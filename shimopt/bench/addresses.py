"""Under which names and addresses this computer is found on its network."""

from __future__ import annotations

import socket
from contextlib import suppress

# of the block that is kept for documentation: nothing is sent there, the system only says which way it would go
_AWAY = ("192.0.2.1", 9)


def own_address() -> str:
    """The address by which others on the network find this computer; empty where it is on none."""
    with suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        asked.connect(_AWAY)
        found: str = asked.getsockname()[0]
        return "" if found == "0.0.0.0" else found
    return ""


def own_names() -> list[str]:
    """Every name and address that a browser on the network may use for this computer."""
    name = socket.gethostname().lower()
    found = {name, f"{name.partition('.')[0]}.local", own_address()}
    with suppress(OSError):
        found |= {str(one[4][0]) for one in socket.getaddrinfo(name, None, socket.AF_INET)}
    return sorted(found - {"", "localhost"})
