from app.builds import editing, kinds, packages, versions
from app.builds.routes import bp

__all__ = ["bp", "editing", "kinds", "packages", "versions"]
