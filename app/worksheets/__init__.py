from app.worksheets.blueprint import bp
from app.worksheets.class_set_pages import show_class_set
from app.worksheets.routes import list_papers

__all__ = ["bp", "list_papers", "show_class_set"]
