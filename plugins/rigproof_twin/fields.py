"""Fields of other plugins' models, which the twin reads by their names in the documents and in no other way."""

from __future__ import annotations

from rigproof.errors import UsageError


def field_of(holder: object, name: str) -> object:
    """A field by its name in the document; the twin reads other plugins' models by these names only."""
    try:
        return getattr(holder, name.replace(" ", "_"))
    except AttributeError:
        kind = getattr(holder, "kind", type(holder).__name__)
        raise UsageError(
            f"{kind}: has no field {name!r}, and the twin cannot do without. Use the bundled model."
        ) from None
