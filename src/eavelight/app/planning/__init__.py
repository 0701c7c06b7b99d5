"""What `plan` works out before anybody drives, one module per section of the page."""
