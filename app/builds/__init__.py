from app.builds import build_editing, entry_kinds, package_pages, versions
from app.builds.routes import bp

__all__ = ["bp", "build_editing", "entry_kinds", "package_pages", "versions"]
