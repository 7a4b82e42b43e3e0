from app.standards import frameworks, suggestions
from app.standards.routes import bp

__all__ = ["bp", "frameworks", "suggestions"]
