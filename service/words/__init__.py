"""Every sentence of the answers, worded from what was judged, for the audience named."""
