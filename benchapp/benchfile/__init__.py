"""The bench file: one SQLite file with everything in it, and the only place that knows SQL.

How it is kept: every thing a person can edit (a family with its parts, an engine, a sample with its readings, …) is one
*document*. Its present state lies in plain STRICT tables, one column a quantity; every state it ever had lies in
`versions`, each naming the versions it came from and carrying a hash over its content. Each transaction writes one
`audit` row, chained by hash to those before it. So nothing is destroyed, undo writes an earlier state as a new version,
and two laptops' files merge by uniting their versions.
"""
