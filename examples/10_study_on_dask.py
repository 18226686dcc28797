"""Make two hundred bows that differ as pipe and workmanship do, on a Dask cluster.

Run it: python examples/10_study_on_dask.py (needs `distributed`, of the extra "test")
"""

from pathlib import Path

from distributed import Client, LocalCluster

from bowfem import Design
from bowfem.orders import Plan, Spread, Study, study

DESIGN = Path(__file__).parent / "designs" / "wagtail.toml"


def run(bows: int = 200) -> Study:
    """Study a spread of wall and of one mark, on two workers of a cluster on this machine."""
    design = Design.from_file(DESIGN)
    mark = design.limb.marks[1].thickness
    plan = Plan(
        design,
        (
            Spread("pipe.wall", design.pipe.wall, 1.05 * design.pipe.wall),
            Spread("limb.marks.2.thickness", mark - 0.4e-3, mark + 0.4e-3),
        ),
        bows,
    )
    cluster = LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=":0")
    with cluster, Client(cluster) as client:
        return study(plan, client.get_executor())


if __name__ == "__main__":
    found = run()
    weight = found.figures[found.solved, 0]
    print(f"{found.solved.sum()} bows of {found.solved.size}: {weight.mean():.2f} N on average,")
    print(f"spread {weight.std():.2f} N; shares of the causes {found.variance_shares().round(2)}")
