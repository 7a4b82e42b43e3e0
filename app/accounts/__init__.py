from app.accounts.routes import bp

__all__ = ["bp"]
