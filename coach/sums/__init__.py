"""The figures of a consultation: which calculator gives which fact, from which other facts.

Each module declares sums with `gives`: a function whose parameters are named after the facts it needs,
with a low line for the dot (`water_depth_ft` is the fact water.depth_ft). Names with "lamp" in them stand
for the left and the right lamp in turn. A parameter with a default can be done without. The numbers of
the trade come in as `rig`, the moment as `now`; nothing here holds one. `worked_out` puts them in order.

A sum that raises ValueError (an input beyond its calculator's limits) gives nothing: never a guess.
"""
