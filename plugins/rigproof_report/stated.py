"""Part and gauges as rig.yaml states them, for who reads the page without the document."""

from __future__ import annotations

from collections.abc import Iterator

from rigproof.documents import Rig
from rigproof.models import DocumentModel

Line = tuple[str, str]


def stated(rig: Rig) -> list[tuple[str, list[Line]]]:
    """Key and text of the part, then of each gauge; what stands in no document says so."""
    part = [("model", rig.part.kind), *_lines(rig.part)]
    return [("part", part), *((f"gauge {name}", list(_lines(gauge))) for name, gauge in rig.gauges.items())]


def _lines(model: DocumentModel) -> Iterator[Line]:
    for field in type(model).model_fields:
        key, value = field.replace("_", " "), getattr(model, field)
        if value is None or key in ("name", "kind"):
            continue
        if isinstance(value, DocumentModel):
            yield from ((f"{key}, {inner}", text) for inner, text in _lines(value))
            continue
        text = str(getattr(value, "text", value))
        yield key, text if field in model.model_fields_set else f"{text} ({model.unwritten})"
