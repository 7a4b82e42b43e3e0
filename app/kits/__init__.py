from app.kits.routes import bp

__all__ = ["bp"]
