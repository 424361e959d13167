"""The built image, run as an engine would run it; ``bash deploy/image check`` builds it and comes here."""
