"""The room's routes hang on this one blueprint."""

from flask import Blueprint

bp = Blueprint("classroom", __name__)
