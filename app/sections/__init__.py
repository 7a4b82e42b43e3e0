from app.sections.meetings import show_meetings
from app.sections.routes import bp

__all__ = ["bp", "show_meetings"]
