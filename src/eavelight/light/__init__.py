"""The light path: expected levels and losses, budgets, return loss, hazard level."""
