"""Limits as data: clauses of documents, profiles that choose them, PON classes."""
