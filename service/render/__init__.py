"""Pictures, pages and tables made of answers; no HTTP, and no numbers of their own.

answer -> a chart (one module each) -> a drawing -> SVG -> PNG
answer -> pages of the report -> HTML;  answer -> rows -> CSV
"""
