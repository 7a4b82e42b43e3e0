"""The one refusal of the store."""


class Missing(LookupError):
    """There is no such thing, or it is not yours."""
