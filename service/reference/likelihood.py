"""Probabilities in plain words, on a published scale."""

from __future__ import annotations

#: Source of the words below.
SOURCE = "likelihood_words"

#: A probability over the first number is called by the words beside it; the first that fits counts.
LIKELIHOOD: tuple[tuple[float, str], ...] = (
    (0.99, "virtually certain"),
    (0.90, "very likely"),
    (0.66, "likely"),
    (0.33, "about as likely as not"),
    (0.10, "unlikely"),
    (0.01, "very unlikely"),
    (-1.0, "exceptionally unlikely"),
)


def likelihood(probability: float) -> str:
    """The words for a probability."""
    return next(words for over, words in LIKELIHOOD if probability > over)
