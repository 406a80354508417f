"""How a paper for a family was asked for: the language, where one was chosen, and the sheet."""

from typing import TYPE_CHECKING, cast

if TYPE_CHECKING:
    from registry.documents.language import Language
    from registry.documents.paper import Paper

__all__ = ["Look"]


class Look:
    """How a paper was asked for: the language, where one was chosen, and the sheet."""

    def __init__(self, language: str | None = None, paper: str = "a4") -> None:
        """
        Take what was typed.

        Raises
        ------
        NotFoundError
            If there is no wording in that language.
        InvalidRecordError
            If it is not the name of one.
        """
        from registry.documents.language import language_of

        self._chosen = language_of(language) if language is not None else None
        self.paper = cast("Paper", paper)

    def language(self, recorded: str | None) -> "Language":
        """Give the language to print in: the one chosen, else the one recorded, else English."""
        from registry.documents.language import nearest_language

        return self._chosen or nearest_language(recorded)

    def notes(self, recorded: str | None) -> tuple[str, ...]:
        """Say that the language recorded is one in which there is no paper."""
        from registry.documents.language import known_languages

        spoken = self.language(recorded)
        if self._chosen or not recorded or recorded.lower().startswith(str(spoken.locale.language)):
            return ()
        known = ", ".join(known_languages())
        return (f"It is in English: papers are written in {known}, not in {recorded} as recorded.",)

    @property
    def suffix(self) -> str:
        """What the name of a file says of it, so that no paper overwrites one that looks otherwise."""
        language = f"-{self._chosen.tag}" if self._chosen else ""
        return language + (f"-{self.paper}" if self.paper != "a4" else "")
