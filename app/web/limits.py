"""How often a stranger may try: sign-in and public pages are rate-limited."""

from flask import Flask
from flask_limiter import Limiter
from flask_limiter.util import get_remote_address

limiter = Limiter(get_remote_address, storage_uri="memory://", default_limits=[])

SIGN_IN = "10 per minute; 60 per hour"
PUBLIC = "240 per minute"


def init_app(app: Flask) -> None:
    """Count tries per address, in memory."""
    limiter.init_app(app)
