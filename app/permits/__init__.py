from app.permits.routes import bp

__all__ = ["bp"]
