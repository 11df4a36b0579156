"""What people and other programs are shown: pages, plots, tables, CSV, CGATS text, the marked photo."""
