"""The bow as a body: swept, viewed, filmed, exported, on a web page."""
