"""What a plastic does to its maker when it is heated, and in heat and cold; words alone."""

#: Of unplasticised PVC; figures and sources are those of README's Cautions.
PVC_DANGERS = (
    "Overheated PVC gives off hydrogen chloride, carbon monoxide and vinyl chloride: work "
    "outdoors, stop at browning, bubbles or a sharp smell, never burn offcuts.",
    "Not in the cold (below about 5 to 10 C), where PVC turns brittle, and not in a hot car, "
    "where it slumps.",
)
