from app.planning import feed, fitting, papers, remedies, routes
from app.planning.blueprint import bp

__all__ = ["bp", "feed", "fitting", "papers", "remedies", "routes"]
