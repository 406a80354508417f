"""What one running application was told at its start."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from registry.ports import Clock

if TYPE_CHECKING:
    from registry.desk.live_position import LiveSource

__all__ = ["Settings"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """
    How the application was started.

    The folder of what was sent (photographs, spreadsheets) lies beside the registry.
    """

    #: The registry file.
    registry: Path
    #: Tells the time.
    clock: Clock
    #: Whether pages travel under TLS, by this program or a proxy before it: cookies are then for TLS alone.
    secure: bool = False
    #: Whether crews on the local network may come in by PIN.
    boat: bool = False
    #: Whether families, the public and the office's systems are served too, or the crew alone.
    public: bool = True
    #: The receiver that is listened to; None where there is none.
    live: "LiveSource | None" = None

    @property
    def received(self) -> Path:
        """The folder in which what was sent is kept, named by its digest."""
        return self.registry.with_name(f"{self.registry.name}.received")

    @property
    def papers(self) -> Path:
        """The folder of the certificates that were issued here."""
        return self.registry.with_name(f"{self.registry.name}.papers")
