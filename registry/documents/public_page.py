"""What every public page needs: text made safe for where it stands, and a policy for its scripts."""

import base64
import hashlib
import json
import re
from collections.abc import Iterable, Mapping
from html import escape
from importlib.resources import files

__all__ = ["as_json", "as_script", "assembled", "own_file", "policy", "typed_words"]


def own_file(name: str) -> str:
    """Read a file of ``map_page``."""
    return files("registry.documents").joinpath("map_page", name).read_text(encoding="utf-8")


def as_script(text: str) -> str:
    """Give a script as it may stand in a page: it closes no element, asks for no file, keeps its digest."""
    text = re.sub(r"//# sourceMappingURL=\S+", "", text.replace("\r\n", "\n"))
    return re.sub(r"<(?=/script|!--)", r"\\x3c", text, flags=re.IGNORECASE)


def policy(scripts: Iterable[str], *, served: bool) -> str:
    """
    Give a content security policy: no script but these, and no request.

    A page that is served may ask its own server for its manifest, its service worker and its icons; no more.
    """
    digests = (base64.b64encode(hashlib.sha256(script.encode()).digest()).decode() for script in scripts)
    allowed = " ".join(f"'sha256-{digest}'" for digest in digests)
    parts = ["default-src 'none'", "base-uri 'none'", "form-action 'none'"]
    parts.append("img-src 'self' data:" if served else "img-src data:")
    parts += ["style-src 'unsafe-inline'", f"script-src {allowed}"]
    if served:
        parts += ["manifest-src 'self'", "worker-src 'self'"]
    return "; ".join(parts)


def as_json(data: object) -> str:
    """Give JSON that may stand inside an element of a page."""
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    return re.sub("[<>&\u2028\u2029]", lambda char: f"\\u{ord(char[0]):04x}", text)


def typed_words(text: str) -> str:
    """Give typed words as they may stand in a page; letters that run the other way turn nothing else."""
    return escape(text) if text.isascii() else f"<bdi>{escape(text)}</bdi>"


def assembled(template: str, parts: Mapping[str, str]) -> str:
    """Put parts, each made safe for its place, where a template names them as ``<!--part-->``."""
    page = re.sub(r"<!--([a-z-]+)-->", lambda mark: parts[mark[1]], template)
    return page.encode("utf-8", "replace").decode("utf-8")
