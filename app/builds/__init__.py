from app.builds.routes import bp

__all__ = ["bp"]
