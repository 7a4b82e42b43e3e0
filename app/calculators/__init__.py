from app.calculators.routes import bp

__all__ = ["bp"]
