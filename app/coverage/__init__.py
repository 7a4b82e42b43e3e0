from app.coverage.routes import bp

__all__ = ["bp"]
