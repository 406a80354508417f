"""Files of a permit or of shapes on their way in: sent, looked at, and only then recorded."""

from collections.abc import Callable
from pathlib import Path

from fastapi import Request

from registry.errors import LeadlineError, RequestError
from registry.storage.layers import DRIVERS, LayerShapes, read_layer
from registry.web.forms import Form
from registry.web.received import plain_name, received, sent_files

__all__ = ["DrawnFiles", "drawn_files"]

#: The parts of a shapefile, a permit's areas: more than this is a mistake.
_MOST = 16


class DrawnFiles:
    """The files that came with a form, by the name that their sender gives them."""

    def __init__(self, request: Request, names: dict[str, str]) -> None:
        self.names = names
        self._kept = received(request)

    @property
    def hidden(self) -> list[str]:
        """Give what a form brings back so that the same files are meant."""
        return [f"{digest} {name}" for name, digest in self.names.items()]

    def content(self, name: str) -> bytes:
        """Give a file."""
        return self._kept.read(self.names[name])

    def read_shapes(self, but: str) -> Callable[[str, str | None], LayerShapes]:
        """Give what reads the shapes of a source that the file `but` names."""

        def read(source: str, layer: str | None) -> LayerShapes:
            name = plain_name(source)
            if name not in self.names or name == but:
                what = f"The permit takes an area from {name}, which was not sent with it."
                raise RequestError(what, remedy="Send that file too, in the second field.")
            return self._layer(name, layer, {n: d for n, d in self.names.items() if n != but})

        return read

    def shapes(self, layer: str | None) -> tuple[LayerShapes, str]:
        """Give the shapes that were sent, and file and digest for the record."""
        main = [name for name in self.names if Path(name).suffix.lower() in DRIVERS]
        if len(main) != 1:
            what = "One file of shapes is needed: a GeoPackage, GeoJSON, KML, or a shapefile with its parts."
            raise RequestError(what, remedy="Send one; of a shapefile all parts, or a zip of them.")
        shapes = self._layer(main[0], layer, self.names, polygons_only=False)
        return shapes, f"{main[0]}, SHA-256 {self.names[main[0]]}"

    def _layer(
        self, name: str, layer: str | None, names: dict[str, str], *, polygons_only: bool = True
    ) -> LayerShapes:
        """Read a layer where all the files lie; whoever sent them knows no folder of this machine."""
        with self._kept.laid_out(names) as folder:
            try:
                return read_layer(folder / name, layer, polygons_only=polygons_only)
            except LeadlineError as error:
                what, remedy = (text.replace(f"{folder}/", "") for text in (error.what, error.remedy))
                raise type(error)(what, remedy=remedy) from error


def drawn_files(request: Request, form: Form, *fields: str) -> DrawnFiles:
    """
    Keep the files of a form, or find those that it sent before.

    Raises
    ------
    RequestError
        If there are too many, two of one name, or what is brought back was never sent.
    """
    kept = received(request)
    names: dict[str, str] = {}
    for text in form.every("sent"):
        digest, _, name = text.partition(" ")
        kept.read(digest)
        names[plain_name(name)] = digest
    for field in fields:
        for sent in sent_files(form, field):
            if sent.name in names:
                what = f"Two files are called {sent.name}."
                raise RequestError(what, remedy="Give each a name of its own.")
            if len(names) == _MOST:
                raise RequestError(f"More than {_MOST} files were sent.", remedy="Send what is needed.")
            names[sent.name] = kept.keep(sent.data)
    return DrawnFiles(request, names)
