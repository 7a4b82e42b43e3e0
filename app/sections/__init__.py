from app.sections.routes import bp

__all__ = ["bp"]
