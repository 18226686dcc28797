"""What is shown is read off walk and findings: no function of `show` enters a solver."""

import sys
from pathlib import Path

import pytest

import bowfem
from bowfem import show
from bowfem.findings import Diary, SectionState, Shots
from bowfem.orders import Levers, Margins, Plan, WeightBand, size, study, usual_spreads

#: Modules whose functions solve a rod or a ring.
SOLVERS = {"engine.py", "controlled.py", "relaxation.py", "ring.py", "ring_bending.py"}
#: Names of the face that are given no walk, or write what another one shows.
OTHER = {
    "Step",
    "Quantity",
    "own_quantity",
    "cautions_text",
    "check_quantity",
    "check_rendering",
    "check_target",
    "film",
    "labelled",
    "look",
    "pipe_table",
    "printable",
    "ruled",
    "wrapped",
}
ROOMS = Path(bowfem.__file__).parent


def solver_calls(show_it):
    """Calls of functions in the solvers' modules while something is shown."""
    found = []

    def watch(frame, event, argument):
        path = Path(frame.f_code.co_filename)
        if event == "call" and path.name in SOLVERS and ROOMS in path.parents:
            found.append(f"{path.name}:{frame.f_code.co_name}")

    sys.setprofile(watch)
    try:
        show_it()
    finally:
        sys.setprofile(None)
    return found


@pytest.fixture(scope="module")
def shown(curlew, wagtail, lapwing, findings, tmp_path_factory):
    """Every function of the face that shows something, ready to be called."""
    folder = tmp_path_factory.mktemp("shown")
    found, unlike = findings(curlew), findings(lapwing)
    section = SectionState.worst(curlew, found.hot_spots)
    band, levers = WeightBand.from_design(curlew.design), Levers.from_design(wagtail.design)
    margins = Margins()
    sized = size(wagtail.design, 1.01 * float(wagtail.force[-1]), None, margins)
    shots, diary = Shots.from_walk(curlew, 0.02), Diary.from_walk(curlew)
    many = study(Plan(wagtail.design, usual_spreads(wagtail.design), 2, seed=1), workers=1)
    of_sized, pages = findings(sized.walk), show.pages(found, band)
    return {
        "Scene": lambda: show.Scene(curlew).plotter.close(),
        "SweptBow": lambda: show.SweptBow.from_walk(curlew).at(0),
        "contact_over_draw": lambda: show.contact_over_draw(curlew),
        "draw_curve": lambda: show.draw_curve(curlew),
        "first_screen": lambda: show.first_screen(found, "us", band),
        "draw_report": lambda: [show.draw_report(each, "us") for each in (found, unlike)],
        "flipping_shape": lambda: show.flipping_shape(lapwing, unlike.sideways),
        "sideways_over_draw": lambda: show.sideways_over_draw(curlew, found.sideways),
        "energy_in_time": lambda: show.energy_in_time(shots),
        "shapes_in_time": lambda: show.shapes_in_time(shots),
        "tension_in_time": lambda: show.tension_in_time(shots),
        "speed_over_mass": lambda: show.speed_over_mass(shots),
        "shot_csv": lambda: show.shot_csv(shots, "us"),
        "shot_json": lambda: show.shot_json(shots, "us"),
        "shot_report": lambda: show.shot_report(shots, "us"),
        "export": lambda: show.export(curlew, folder / "meshes"),
        "levers_picture": lambda: show.levers_picture(levers),
        "levers_report": lambda: show.levers_report(levers, "us"),
        "moment_curvature": lambda: show.moment_curvature(section),
        "band_text": lambda: show.band_text(band, "us"),
        "order_of_work": lambda: show.order_of_work(found, band, "us"),
        "pages": lambda: show.pages(found, band),
        "png": lambda: show.png(show.shapes(curlew)),
        "report_page": lambda: show.report_page(found, section),
        "section_picture": lambda: show.section_picture(section),
        "section_report": lambda: show.section_report(section, "us"),
        "shapes": lambda: show.shapes(lapwing),
        "sheet_text": lambda: show.sheet_text(found, band, "us"),
        "size_report": lambda: show.size_report(sized, of_sized, margins, "us"),
        "still": lambda: show.still(curlew, folder / "still.png"),
        "strain_along": lambda: show.strain_along(curlew),
        "stress_along": lambda: show.stress_along(curlew),
        "stress_round_curl": lambda: show.stress_round_curl(curlew),
        "study_file": lambda: show.study_file(many, "study.csv", "us"),
        "study_picture": lambda: show.study_picture(many),
        "study_report": lambda: show.study_report(many, None, "us"),
        "to_dict": lambda: show.to_dict(unlike, "us"),
        "to_json": lambda: show.to_json(found, "us"),
        "to_pdf": lambda: show.to_pdf(pages, "Curlew"),
        "to_svg": lambda: show.to_svg(pages[0]),
        "web": lambda: show.web(curlew, folder / "page.html"),
        "web_page": lambda: show.web_page(curlew),
        "diary_report": lambda: show.diary_report(diary, "us"),
        "diary_json": lambda: show.diary_json(diary, "us"),
        "diary_picture": lambda: show.diary_picture(diary),
    }


def test_every_function_is_watched(shown):
    learned = {
        "learn_report",
        "memory_report",
        "learned_picture",
    }  # given plain numbers; see the test of the command
    assert set(show.__all__) == set(shown) | OTHER | learned


def test_no_function_solves(shown):
    assert {name: calls for name, do in shown.items() if (calls := solver_calls(do))} == {}


def test_a_solver_call_is_seen(wagtail):
    """The watch itself sees a walk, and a section bent."""
    assert solver_calls(lambda: bowfem.walk(wagtail.design))
    spot = float(wagtail.limbs[0].s[10])
    assert solver_calls(lambda: SectionState.from_walk(wagtail, spot))
