from bowfem.show.body.browser import (
    web_page as web_page,
)
from bowfem.show.body.exporting import (
    export as export,
)
from bowfem.show.body.quantities import (
    Quantity as Quantity,
    check_quantity as check_quantity,
    own_quantity as own_quantity,
)
from bowfem.show.body.rendering import (
    check_rendering as check_rendering,
)
from bowfem.show.body.swept import (
    SweptBow as SweptBow,
)
from bowfem.show.body.viewer import (
    Scene as Scene,
)
from bowfem.show.body.viewing import (
    check_target as check_target,
    film as film,
    look as look,
    still as still,
    web as web,
)
from bowfem.show.page.paper import (
    to_pdf as to_pdf,
    to_svg as to_svg,
)
from bowfem.show.page.report import (
    report_page as report_page,
)
from bowfem.show.page.sheet import (
    pages as pages,
)
from bowfem.show.page.steps import (
    Step as Step,
    order_of_work as order_of_work,
    sheet_text as sheet_text,
)
from bowfem.show.plot.bow import (
    draw_curve as draw_curve,
    png as png,
    shapes as shapes,
)
from bowfem.show.plot.diary import (
    diary_picture as diary_picture,
)
from bowfem.show.plot.limb import (
    contact_over_draw as contact_over_draw,
    moment_curvature as moment_curvature,
    strain_along as strain_along,
    stress_along as stress_along,
    stress_round_curl as stress_round_curl,
)
from bowfem.show.plot.orders import (
    learned_picture as learned_picture,
    levers_picture as levers_picture,
    study_picture as study_picture,
)
from bowfem.show.plot.section import (
    section_picture as section_picture,
)
from bowfem.show.plot.shot import (
    energy_in_time as energy_in_time,
    shapes_in_time as shapes_in_time,
    speed_over_mass as speed_over_mass,
    tension_in_time as tension_in_time,
)
from bowfem.show.plot.sideways import (
    flipping_shape as flipping_shape,
    sideways_over_draw as sideways_over_draw,
)
from bowfem.show.record import (
    to_dict as to_dict,
    to_json as to_json,
)
from bowfem.show.text.cautions import (
    cautions_text as cautions_text,
)
from bowfem.show.text.diary import (
    diary_json as diary_json,
    diary_report as diary_report,
)
from bowfem.show.text.learning import (
    learn_report as learn_report,
    memory_report as memory_report,
)
from bowfem.show.text.orders import (
    levers_report as levers_report,
    size_report as size_report,
)
from bowfem.show.text.screen import (
    first_screen as first_screen,
)
from bowfem.show.text.section import (
    section_report as section_report,
)
from bowfem.show.text.shot import (
    shot_csv as shot_csv,
    shot_json as shot_json,
    shot_report as shot_report,
)
from bowfem.show.text.studies import (
    study_file as study_file,
    study_report as study_report,
)
from bowfem.show.text.tables import (
    band_text as band_text,
    draw_report as draw_report,
    labelled as labelled,
    pipe_table as pipe_table,
    printable as printable,
    ruled as ruled,
    wrapped as wrapped,
)
