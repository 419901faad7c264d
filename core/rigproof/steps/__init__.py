"""The bundled step kinds, and what all steps share."""
