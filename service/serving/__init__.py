"""What listens: a light front that accepts requests, and processes that compute them. Read front.py first."""
