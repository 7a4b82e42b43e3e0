from app.concepts.routes import bp

__all__ = ["bp"]
