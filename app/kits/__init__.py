from app.kits import batch_pages, paper_pages
from app.kits.routes import bp

__all__ = ["batch_pages", "bp", "paper_pages"]
