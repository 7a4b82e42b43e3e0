"""The room's blueprint; its views stand in several files."""

from flask import Blueprint

bp = Blueprint("worksheets", __name__)
