from app.coverage import department_pages
from app.coverage.routes import bp

__all__ = ["bp", "department_pages"]
