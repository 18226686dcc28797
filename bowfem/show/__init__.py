"""What people see of a result: tables, pictures, records, cautions. Nothing here solves.

Plots live in `bowfem.show.plots`, the printed report in `bowfem.show.tables`, the JSON record in
`bowfem.show.record`.
"""
