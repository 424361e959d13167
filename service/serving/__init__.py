"""What listens: a light front that takes requests, and processes that compute them. Read front.py first."""
