from app.planning.blueprint import bp
from app.planning.change_routes import show_events
from app.planning.feed import calendar_feed
from app.planning.fitting import fits
from app.planning.paper_pages import week
from app.planning.remedy_pages import show_remedies
from app.planning.routes import semester

__all__ = ["bp", "calendar_feed", "fits", "semester", "show_events", "show_remedies", "week"]
