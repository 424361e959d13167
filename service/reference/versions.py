"""Versions that an answer names.  Reading them imports nothing heavy."""

from __future__ import annotations

from importlib.metadata import version

SERVICE_VERSION = "0.1.0"
COOLPROP_VERSION = version("CoolProp")
