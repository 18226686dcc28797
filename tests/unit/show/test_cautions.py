"""The short cautions leave out none of the dangers README names."""

from bowfem.show.text.cautions import cautions_text

# the same dangers test_readme.py looks for in README, which says them at length
DANGERS = [
    "estimate",
    "no warranty",
    "local law",
    "qualified person",
    "hydrogen chloride",
    "carbon monoxide",
    "vinyl chloride",
    "outdoors",
    "never burn offcuts",
    "gloves",
    "never hold pressure again",
    "eye protection",
    "fragments",
    "no dry fire",
    "no overdraw",
    "in the cold",
    "hot car",
    "strung",
    "whitening",
]


def test_every_danger_is_named(root):
    short = " ".join(cautions_text().lower().split())
    readme = (root / "README.md").read_text(encoding="utf-8")
    long = " ".join(readme.partition("## Cautions")[2].partition("\n## ")[0].lower().split())
    assert [words for words in DANGERS if words not in short or words not in long] == []
