"""Textbook cases (`cases`) and timings (`speed`); ``python -m benchmarks`` tabulates them."""
