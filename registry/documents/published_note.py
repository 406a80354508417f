"""What a public page says of positions that the programme does not publish as it knows them."""

from registry.documents.map_words import attribute_words
from registry.records.public_site import PublicSite

__all__ = ["published_note"]


def published_note(site: PublicSite) -> str:
    """Say how much of the positions the programme publishes, as markup; empty where that is everything."""
    if site.published.sites_only:
        said = attribute_words("published-sites")
    elif site.published.rounded_m is not None:
        said = attribute_words("published-rounded", {"step": site.published.rounded})
    else:
        return ""
    return f'<p class="caution"><span {said}></span></p>'
