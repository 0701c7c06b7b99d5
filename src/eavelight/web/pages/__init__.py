"""Handlers, one module per page: parse, call a use case, render."""
