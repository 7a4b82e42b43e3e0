from app.classroom.routes import bp

__all__ = ["bp"]
