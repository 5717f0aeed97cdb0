"""Made from ``books/*.toml`` by ``make_books.py``: the form of them that Python loads fast."""
