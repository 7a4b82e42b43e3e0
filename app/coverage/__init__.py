from app.coverage import department
from app.coverage.routes import bp

__all__ = ["bp", "department"]
