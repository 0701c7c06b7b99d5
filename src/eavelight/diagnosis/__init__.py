"""Which cause, how sure, and what to do next. Advice: it never changes a verdict."""
