from app.planning.routes import bp

__all__ = ["bp"]
