"""Made from ``books/*.toml`` by ``make.py``: the form of them that Python loads fast."""
