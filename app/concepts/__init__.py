from app.concepts import editing
from app.concepts.routes import bp

__all__ = ["bp", "editing"]
