"""The web application: pages for the ladder, the plan and the desk, on loopback.

Handlers parse, call a use case, render. Nothing here knows a limit or opens a store.
"""
