from app.kits import batches, papers
from app.kits.routes import bp

__all__ = ["batches", "bp", "papers"]
