from app.standards.routes import bp

__all__ = ["bp"]
