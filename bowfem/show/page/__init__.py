"""Pages to read and to print: report and sheet."""
