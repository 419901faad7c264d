"""Reading other plugins' models by the names of their fields in the document, and by nothing else."""

from __future__ import annotations

from rigproof.errors import UsageError


def field_of(holder: object, name: str) -> object:
    """A field by its name in the document; `UsageError` where the model has none of that name."""
    try:
        return getattr(holder, name.replace(" ", "_"))
    except AttributeError:
        kind = getattr(holder, "kind", type(holder).__name__)
        raise UsageError(
            f"{kind}: has no field {name!r}, and the twin cannot do without. Use the bundled model."
        ) from None
