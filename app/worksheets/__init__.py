from app.worksheets.routes import bp

__all__ = ["bp"]
