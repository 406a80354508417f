"""One run that issues the certificates of many modules behind the pages, told of while it goes on."""

import json
import logging
import threading
import time
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from registry.errors import ConflictError, LeadlineError
from registry.records.entry import instant_text
from registry.web.settings import Settings

__all__ = ["BatchState", "batch_state", "begin_batch", "stop_batch"]

_LOG = logging.getLogger("leadline")
#: How often a run writes down how far it is. Units: s.
NOTED_EVERY_S = 1.0
_FILE = "batch.json"
_DONE = ("issued", "again", "kept", "withdrawn", "refused")


@dataclass(slots=True, kw_only=True)
class BatchState:
    """How far a run is, or how it ended."""

    #: "proving", "issuing"; "finished", "stopped", "failed", "interrupted" (the server ended before it did).
    state: str
    #: None for every permit.
    permit: str | None
    by: str
    begun: str
    total: int = 0
    done: int = 0
    counts: dict[str, int] = field(default_factory=lambda: dict.fromkeys(_DONE, 0))
    #: Tag, reason and remedy of what was refused.
    refused: list[tuple[str, str, str]] = field(default_factory=list)
    #: What went wrong, and the remedy, where it failed.
    fault: tuple[str, str] = ("", "")

    @property
    def running(self) -> bool:
        """Whether it goes on."""
        return self.state in {"proving", "issuing"}

    def as_json(self) -> dict[str, Any]:
        """Give it for a script, without the refused one by one."""
        told = asdict(self)
        told["refused"] = len(self.refused)
        return told | {"running": self.running}


class _Batch:
    def __init__(self, settings: Settings, state: BatchState) -> None:
        self.state = state
        self.stop = threading.Event()
        self._settings = settings
        self._noted_s = 0.0
        self._thread = threading.Thread(target=self._run, name="certificates", daemon=True)

    def begin(self) -> None:
        self._thread.start()

    @property
    def alive(self) -> bool:
        return self._thread.is_alive()

    def _run(self) -> None:
        try:
            self.state.state = self._issue()
        except LeadlineError as error:
            self.state.fault = (error.what, error.remedy)
            self.state.state = "failed"
        except Exception as error:  # whatever it is, the page must say that nothing goes on any more
            _LOG.error("Unforeseen, while certificates were issued", exc_info=error)
            self.state.fault = ("Something went wrong that nobody foresaw.", "What was issued stands. Go on.")
            self.state.state = "failed"
        self._note(at_once=True)

    def _issue(self) -> str:
        from registry.actions.issue_certificates import tags_to_certify
        from registry.desk.certificate_folder import certify_into
        from registry.desk.certificate_page import signing_key
        from registry.documents.look import Look
        from registry.storage.geopackage import open_register
        from registry.storage.replay import insist_on_proof

        settings, state = self._settings, self.state
        with open_register(settings.registry, clock=settings.clock) as register:
            insist_on_proof(register)
            tags = tags_to_certify(register, state.permit)
            state.total, state.state = len(tags), "issuing"
            laid = certify_into(
                register,
                settings.papers,
                tags,
                key=signing_key(register),
                look=Look(),
                now=settings.clock.now(),
                actor=state.by,
            )
            for each in laid:
                state.counts[each.outcome] += 1
                if each.refused is not None:
                    state.refused.append((each.tag, each.refused.what, each.refused.remedy))
                state.done += 1
                self._note()
                if self.stop.is_set():
                    return "stopped"
        return "finished"

    def _note(self, *, at_once: bool = False) -> None:
        """Write down how far it is, so that a server that is started again can tell."""
        from registry.storage.files import make_folder, write_file

        now_s = time.monotonic()
        if at_once or now_s - self._noted_s > NOTED_EVERY_S:
            self._noted_s = now_s
            try:
                folder = make_folder(self._settings.papers)
                write_file(folder / _FILE, json.dumps(asdict(self.state)).encode(), private=True)
            except LeadlineError as error:
                _LOG.warning("How far the certificates are cannot be written down: %s", error)


_LOCK = threading.Lock()
#: The last run of each registry that this process serves.
_RUNS: dict[Path, _Batch] = {}


def begin_batch(settings: Settings, *, permit: str | None, by: str) -> BatchState:
    """
    Begin to issue what is missing or has changed.

    Raises
    ------
    ConflictError
        If a run goes on already: two would only wait for each other.
    """
    with _LOCK:
        known = _RUNS.get(settings.registry.resolve())
        if known is not None and known.alive:
            so_far = f"{known.state.done} of {known.state.total}"
            what = f"Certificates are being issued already, for {known.state.by}: {so_far}."
            raise ConflictError(what, remedy="Wait until that run has ended, or stop it.")
        state = BatchState(state="proving", permit=permit, by=by, begun=instant_text(settings.clock.now()))
        batch = _RUNS[settings.registry.resolve()] = _Batch(settings, state)
        batch.begin()
    return state


def stop_batch(settings: Settings) -> None:
    """Let the run end after the certificate that it is at; what was issued stands."""
    with _LOCK:
        known = _RUNS.get(settings.registry.resolve())
        if known is not None:
            known.stop.set()


def batch_state(settings: Settings) -> BatchState | None:
    """Tell how far the run is, or how the last one ended, also of a server that was started before."""
    with _LOCK:
        known = _RUNS.get(settings.registry.resolve())
    if known is not None:
        return known.state
    return _noted(settings.papers / _FILE)


def _noted(file: Path) -> BatchState | None:
    from registry.storage.files import read_file

    if not file.is_file():
        return None
    try:
        said = json.loads(read_file(file))
        state = BatchState(**said)
        state.refused = [(str(tag), str(what), str(remedy)) for tag, what, remedy in state.refused]
    except (LeadlineError, ValueError, TypeError):
        return None
    if state.running:
        state.state = "interrupted"
    return state
