from app.classroom import routes
from app.classroom.blueprint import bp
from app.classroom.results import routes as results_routes
from app.classroom.roster import routes as roster_routes

__all__ = ["bp", "results_routes", "roster_routes", "routes"]
