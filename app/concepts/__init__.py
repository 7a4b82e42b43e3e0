from app.concepts import concept_editing
from app.concepts.routes import bp

__all__ = ["bp", "concept_editing"]
